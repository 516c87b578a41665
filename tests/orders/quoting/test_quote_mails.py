"""What the pages of quote, order and customer say of their mails, with a mail server that fails."""

from django.urls import reverse

from blendshop.outbox.actions import deliver_overdue
from blendshop.outbox.models import Mail
from orders.models import Quote
from orders.quoting.actions.quotes import accept_quote
from tests.jobs.queue_cases import run_due
from tests.outbox.mail_servers import closed_port, silent_server

__all__ = ["closed_port", "silent_server"]  # fixtures

LOCMEM = "django.core.mail.backends.locmem.EmailBackend"


def words(client, name, *args):
    return " ".join(client.get(reverse(name, args=args)).content.decode().split())


def test_a_quote_is_sent_while_the_mail_server_says_nothing(
    draft, rep, customer, signed_in, silent_server
):
    quote = draft
    client = signed_in(rep)
    page = client.post(
        reverse("quote_send", args=[quote.number]),
        {"do": "send", "seen_total": str(quote.total)},
        follow=True,
    )
    told = " ".join(page.content.decode().split())
    assert Quote.objects.get(pk=quote.pk).status == Quote.Status.SENT
    assert f"It will be mailed to {customer.email}." in told
    assert "waiting to be sent" in told
    assert silent_server == [], "the page connects to nobody"
    run_due()
    assert "The mail server did not answer." in words(client, "quote_detail", quote.number)
    assert len(silent_server) == 1


def test_a_mail_given_up_stands_on_the_page_and_is_sent_again(
    draft, rep, formulator, customer, signed_in, closed_port, settings
):
    quote = draft
    client = signed_in(rep)
    client.post(
        reverse("quote_send", args=[quote.number]), {"do": "send", "seen_total": str(quote.total)}
    )
    mail = Mail.objects.get()
    Mail.objects.update(tries=7)
    deliver_overdue.call()
    page = words(client, "quote_detail", quote.number)
    assert "not delivered (The mail server cannot be reached.)" in page
    again = reverse("quote_mail_resend", args=[quote.number, mail.pk])
    assert again in page
    assert "Send again" not in words(signed_in(customer), "quote_detail", quote.number)
    settings.EMAIL_BACKEND = LOCMEM
    answer = signed_in(formulator).post(again, follow=True)
    assert f"The mail to {customer.email} will be sent again." in answer.content.decode()
    run_due()
    page = words(client, "quote_detail", quote.number)
    assert "not delivered" not in page
    assert ": sent " in page
    assert client.post(again).status_code == 409


def test_an_order_is_placed_without_a_mail_server_and_its_page_shows_the_mail_to_staff(
    draft, rep, customer, plant_worker, signed_in, closed_port
):
    quote = draft
    signed_in(rep).post(
        reverse("quote_send", args=[quote.number]), {"do": "send", "seen_total": str(quote.total)}
    )
    order = accept_quote(quote=Quote.objects.get(), acting_user=None, name="Casey")
    run_due()
    subject = f"Order {order.number} is confirmed"
    page = words(signed_in(plant_worker), "order_detail", order.number)
    assert f"Mail to {customer.email}, “{subject}”: waiting, next try" in page
    assert subject not in words(signed_in(customer), "order_detail", order.number)
    mail = Mail.objects.about("order", order.number).get()
    Mail.objects.update(state=Mail.State.DEAD)
    for number, key, status in ((order.number, mail.pk, 302), (order.number, 0, 404)):
        url = reverse("order_mail_resend", args=[number, key])
        assert signed_in(plant_worker).post(url).status_code == status
    assert signed_in(customer).post(url).status_code == 403


def test_an_added_person_is_mailed_later_and_the_customers_page_shows_it(
    world, rep, company, signed_in, closed_port
):
    client = signed_in(rep)
    client.post(
        reverse("customer_add_person", args=[company.pk]),
        {"name": "Jo New", "email": "jo@brookmeadow.example"},
    )
    page = words(client, "customer_detail", company.pk)
    assert "a link to choose a password will be mailed to jo@brookmeadow.example" in page
    assert "Mail to jo@brookmeadow.example, “Your login at Test Plant”: waiting to be sent" in page
    Mail.objects.update(tries=7)
    deliver_overdue.call()
    url = reverse("customer_mail_resend", args=[company.pk, Mail.objects.get().pk])
    assert url in words(client, "customer_detail", company.pk)
    assert client.post(url).status_code == 302
    assert Mail.objects.get().state == Mail.State.WAITING


def test_each_line_of_an_order_is_a_line_of_its_mail(draft, rep, customer, mailoutbox, signed_in):
    quote = draft
    signed_in(rep).post(
        reverse("quote_send", args=[quote.number]), {"do": "send", "seen_total": str(quote.total)}
    )
    accept_quote(quote=Quote.objects.get(), acting_user=None, name="Casey")
    deliver_overdue.call()
    line = quote.lines.get()
    named = f"{line.quantity} × {line.package.plural_name} of {line.revision.blend.name}"
    for mail in mailoutbox:
        if mail.to == [customer.email] and mail.subject.startswith("Order"):
            (told,) = [each for each in mail.body.splitlines() if named in each]
            assert told.startswith(named)
            assert told.endswith(" per gal)")
