"""Customer companies: their people and who may order, addresses, terms, limits."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import Group
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.actions.way_in import note_new_person
from blendshop.accounts.invitations import mail_invitation
from blendshop.accounts.models import Company, SecurityEvent, User
from blendshop.accounts.security_log import write_event
from blendshop.errors import BadInput, IllegalMove
from blendshop.roles import BLENDS, Role, require_role
from blendshop.saving import save_valid
from orders.models import CustomerTerms, FreightZone, OrderLimits, PriceTier, ShipTo, SprayHabit

KEEPS_CUSTOMERS = (Role.REP, Role.OFFICE)


def add_company(*, acting_user: User, name: str, phone: str = "", notes: str = "") -> Company:
    """A new customer company; BadInput if the name is taken."""
    require_role(acting_user, *KEEPS_CUSTOMERS)
    company = Company(name=name.strip(), phone=phone, notes=notes)
    _save_checked(company)
    return company


def change_company(
    *, acting_user: User, company: Company, name: str, phone: str, notes: str, active: bool
) -> None:
    """Correct a company's details, or close it for new quotes."""
    require_role(acting_user, *KEEPS_CUSTOMERS)
    company.name, company.phone, company.notes = name.strip(), phone, notes
    company.active = active
    _save_checked(company)


def set_terms(
    *, acting_user: User, company: Company, tier: PriceTier | None, payment_terms: str = ""
) -> None:
    """The price tier of a company; None returns it to the default tier. The office's decision."""
    require_role(acting_user, Role.OFFICE)
    terms = CustomerTerms.objects.filter(company=company).first()
    if tier is None:
        if terms is not None:
            terms.delete()
        return
    terms = terms or CustomerTerms(company=company)
    terms.tier, terms.payment_terms = tier, payment_terms
    terms.save()


def set_limits(
    *,
    acting_user: User,
    company: Company,
    most_gal: int | None,
    most_total: Decimal | None,
    most_open: Decimal | None,
) -> OrderLimits:
    """What its people may order before somebody looks at it; None is no limit of that kind.

    Whoever sets them has confirmed them.
    """
    require_role(acting_user, Role.OFFICE)
    limits = OrderLimits.objects.filter(company=company).first() or OrderLimits(company=company)
    limits.most_gal, limits.most_total, limits.most_open = most_gal, most_total, most_open
    limits.confirmed_at, limits.confirmed_by = timezone.now(), acting_user
    return save_valid(limits, acting_user)


def confirm_limits(*, acting_user: User, company: Company) -> None:
    """The figures the plant began with are right. Said twice it changes nothing."""
    require_role(acting_user, Role.OFFICE)
    limits = OrderLimits.objects.filter(company=company).first()
    if limits is None:
        raise IllegalMove(_("{company} has no limits yet; set them.").format(company=company))
    if limits.confirmed_at is None:
        limits.confirmed_at, limits.confirmed_by = timezone.now(), acting_user
        save_valid(limits, acting_user)


def show_recipes(*, acting_user: User, company: Company, sees_recipe: bool) -> None:
    """Whether the company's people read stocks with their shares, or analysis and sources only."""
    require_role(acting_user, Role.OFFICE)
    if company.sees_recipe != sees_recipe:
        company.sees_recipe = sees_recipe
        save_valid(company, acting_user, update_fields=["sees_recipe"])


def set_may_order(
    *, acting_user: User, person: User, may_order: bool, address: str | None = None
) -> None:
    """Whether somebody of a customer may order for it or only look; it stands in the log."""
    require_role(acting_user, Role.OFFICE)
    if person.company_id is None:
        raise BadInput(_("{person} is nobody's customer.").format(person=person))
    with transaction.atomic():
        if (
            not User.objects.filter(pk=person.pk)
            .exclude(may_order=may_order)
            .update(may_order=may_order)
        ):
            return
        person.may_order = may_order
        what = _("may order") if may_order else _("may look and not order")
        write_event(
            SecurityEvent.Kind.ACCESS_CHANGED,
            who=acting_user,
            whom=person,
            what=what,
            address=address,
        )


def add_person(
    *,
    acting_user: User,
    company: Company,
    name: str,
    email: str,
    address: str | None = None,
) -> User:
    """Somebody of the customer who may sign in; a mail lets them choose their password.

    ``address`` is where the request came from, for the security log.
    """
    require_role(acting_user, *KEEPS_CUSTOMERS)
    email = email.strip().lower()
    if User.objects.filter(email__iexact=email).exists():
        message = _("A person with this email address already exists.")
        raise BadInput(message, fields={"email": message})
    with transaction.atomic():
        person = User.objects.create_user(email, name=name.strip(), company=company)
        person.groups.add(Group.objects.get(name=Role.CUSTOMER.value))
        note_new_person(acting_user=acting_user, person=person, address=address)
        mail_invitation(person, acting_user, "orders/customers/mail/customer_welcome.txt")
    return person


def take_in_caller(
    *,
    acting_user: User,
    name: str,
    person: str = "",
    email: str = "",
    address: str | None = None,
    sprayed: Mapping[str, Any] | None = None,
    **place: Any,
) -> ShipTo:
    """A new customer with the first place it is delivered to, called by its town: all or nothing.

    ``person`` may sign in with ``email``, as with ``add_person``; without a mail nobody may yet.
    ``sprayed`` is what ``remember_spraying`` keeps of the call.
    """
    with transaction.atomic():
        company = add_company(acting_user=acting_user, name=name)
        ship_to = add_ship_to(
            acting_user=acting_user, company=company, label=place["city"], **place
        )
        if email:
            add_person(
                acting_user=acting_user,
                company=company,
                name=person or name,
                email=email,
                address=address,
            )
        if sprayed:
            remember_spraying(acting_user=acting_user, company=company, **sprayed)
    return ship_to


def add_ship_to(
    *, acting_user: User, company: Company, zone: FreightZone, **address: Any
) -> ShipTo:
    """A delivery address; its zone and state decide freight and fees."""
    require_role(acting_user, *KEEPS_CUSTOMERS)
    ship_to = ShipTo(company=company, zone=zone, **address)
    _save_checked(ship_to)
    return ship_to


def change_ship_to(*, acting_user: User, ship_to: ShipTo, **columns: Any) -> None:
    """Correct an address. Papers already issued keep the old one."""
    require_role(acting_user, *KEEPS_CUSTOMERS)
    for name, value in columns.items():
        setattr(ship_to, name, value)
    _save_checked(ship_to)


def _save_checked(row: Company | ShipTo) -> None:
    """Save after the model's own checks; BadInput in the constraint's words."""
    try:
        row.full_clean()
    except ValidationError as error:
        fields = {name: " ".join(texts) for name, texts in error.message_dict.items()}
        raise BadInput(" ".join(fields.values()), fields=fields) from error
    row.save()


def remember_spraying(
    *,
    acting_user: User,
    company: Company,
    n_rate_lb: float,
    carrier_gal: float,
    state: str = "",
    county: str = "",
    place: str = "",
) -> None:
    """Keep rate and volume, per 1,000 sq ft, for the customer's next wish and for its quotes.

    A place is kept where it is sprayed elsewhere than at the ship-to.
    """
    require_role(acting_user, *BLENDS)
    SprayHabit.objects.update_or_create(
        company=company,
        defaults={
            "n_rate_lb_per_1000sqft": n_rate_lb,
            "carrier_gal_per_1000sqft": carrier_gal,
            "state": state,
            "county": county,
            "place": place,
        },
    )
