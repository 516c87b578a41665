"""Customer companies: their people and who may order, addresses, terms, limits."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.contrib.auth.models import Group
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.actions.way_in import Standing, note_changes, note_new_person
from blendshop.accounts.invitations import mail_invitation
from blendshop.accounts.models import Company, SecurityEvent, User
from blendshop.accounts.security_log import write_event
from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.languages.choice import in_house_words
from blendshop.roles import BLENDS, Role, has_role, require_role
from blendshop.saving import name_in_history, save_valid
from orders.customers.mail import mail_place_answered
from orders.customers.notices import tell_place
from orders.models import (
    CustomerTerms,
    FreightZone,
    OrderLimits,
    PlantProfile,
    PriceTier,
    ShipTo,
    SprayHabit,
)

KEEPS_CUSTOMERS = (Role.REP, Role.OFFICE)
#: What a customer changes of its own place by itself.
OWN_COLUMNS = frozenset({"label", "street", "postal_code"})


def add_company(
    *,
    acting_user: User,
    name: str,
    phone: str = "",
    notes: str = "",
    language: str = "",
    units: str = "",
) -> Company:
    """A new customer company; BadInput if the name is taken."""
    require_role(acting_user, *KEEPS_CUSTOMERS)
    company = Company(name=name.strip(), phone=phone, notes=notes, language=language, units=units)
    _save_checked(company, acting_user)
    return company


def change_company(
    *,
    acting_user: User,
    company: Company,
    name: str,
    phone: str,
    notes: str,
    active: bool,
    language: str = "",
    units: str = "",
) -> None:
    """Correct a company's details, or close it for new quotes.

    Blank ``language`` and ``units`` are the house's.
    """
    require_role(acting_user, *KEEPS_CUSTOMERS)
    company.name, company.phone, company.notes = name.strip(), phone, notes
    company.language, company.units = language, units
    company.active = active
    _save_checked(company, acting_user)


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
    """Whether somebody of a customer may order for it or only look; it stands in the log.

    The office says so, and an owner of the company of its colleagues.
    """
    if person.company is None:
        raise BadInput(_("{person} is nobody's customer.").format(person=person))
    if not has_role(acting_user, Role.OFFICE):
        _require_owner_over(acting_user, person)
    with in_house_words():
        what = _("may order") if may_order else _("may look and not order")
    _change(acting_user, person, {"may_order": may_order}, what, address)


def _change(
    acting_user: User, person: User, columns: dict[str, bool], what: str, address: str | None
) -> None:
    """Set one of a person's switches and write it down; nothing where it stands so already."""
    with transaction.atomic():
        differs = User.objects.filter(pk=person.pk).exclude(**columns)
        if not differs.update(**columns):
            return
        for column, to in columns.items():
            setattr(person, column, to)
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
    return _added(acting_user, company, name, email, may_order=True, address=address)


def invite_colleague(
    *, acting_user: User, name: str, email: str, may_order: bool, address: str | None = None
) -> User:
    """An owner of a company adds somebody to it, as with ``add_person``."""
    company = require_owner(acting_user)
    return _added(acting_user, company, name, email, may_order=may_order, address=address)


def _added(
    acting_user: User,
    company: Company,
    name: str,
    email: str,
    *,
    may_order: bool,
    address: str | None,
) -> User:
    """Whoever is the first of a company owns it."""
    email = email.strip().lower()
    if User.objects.filter(email__iexact=email).exists():
        message = _("A person with this email address already exists.")
        raise BadInput(message, fields={"email": message})
    with transaction.atomic():
        Company.objects.select_for_update().get(pk=company.pk)  # two first people: one is later
        person = User.objects.create_user(
            email,
            name=name.strip(),
            company=company,
            may_order=may_order,
            is_owner=not company.people.exists(),
        )
        person.groups.add(Group.objects.get(name=Role.CUSTOMER.value))
        note_new_person(acting_user=acting_user, person=person, address=address)
        mail_invitation(
            person,
            acting_user,
            "orders/customers/mail/customer_welcome.txt",
            plant=PlantProfile.load().name,
        )
    return person


def set_owner(
    *, acting_user: User, person: User, is_owner: bool, address: str | None = None
) -> None:
    """Who of a company invites its colleagues and says what they may do. The office's decision."""
    require_role(acting_user, Role.OFFICE)
    if person.company_id is None:
        raise BadInput(_("{person} is nobody's customer.").format(person=person))
    with in_house_words():
        what = _("owner of its company") if is_owner else _("no longer owner of its company")
    _change(acting_user, person, {"is_owner": is_owner}, what, address)


def set_login(
    *, acting_user: User, person: User, may_sign_in: bool, address: str | None = None
) -> None:
    """An owner ends a colleague's login, with all sessions, or lets the person in again."""
    _require_owner_over(acting_user, person)
    with transaction.atomic():
        before = Standing.of(person)
        if before.active == may_sign_in:
            return
        person.is_active = may_sign_in
        person.save(update_fields=["is_active"])
        note_changes(acting_user=acting_user, person=person, before=before, address=address)


def require_owner(acting_user: User) -> Company:
    """The company the person owns; NotAllowed for anybody else."""
    require_role(acting_user, Role.CUSTOMER)
    if acting_user.company is None or not acting_user.is_owner:
        raise NotAllowed(_("Whoever owns the login of your company does that."))
    return acting_user.company


def _require_owner_over(acting_user: User, person: User) -> None:
    """NotAllowed but for an owner and a colleague of the own company who does not own it too."""
    company = require_owner(acting_user)
    if person.company_id != company.pk:
        raise NotAllowed(_("That is not a colleague of yours."))
    if person.pk == acting_user.pk or person.is_owner:
        raise NotAllowed(_("What an owner may do is the office's to say; ask us."))


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
    _save_checked(ship_to, acting_user)
    return ship_to


def change_ship_to(*, acting_user: User, ship_to: ShipTo, **columns: Any) -> None:
    """Correct an address. Papers already issued keep the old one.

    Made active, one that a customer named is confirmed with it.
    """
    require_role(acting_user, *KEEPS_CUSTOMERS)
    for name, value in columns.items():
        setattr(ship_to, name, value)
    is_confirmed = ship_to.waits_since is not None and ship_to.active
    with transaction.atomic():
        if is_confirmed:
            _no_longer_waits(ship_to)
        _save_checked(ship_to, acting_user)
        if is_confirmed:
            mail_place_answered(ship_to, acting_user)


def add_own_ship_to(*, acting_user: User, **address: str) -> ShipTo:
    """A customer names another place. It is not delivered to before the plant has set its zone.

    IllegalMove while the plant has no freight zone at all.
    """
    company = require_may_change_places(acting_user)
    zones = FreightZone.objects.all()
    near = zones.filter(ship_tos__company=company, ship_tos__state=address["state"]).first()
    zone = near or zones.first()
    if zone is None:
        raise IllegalMove(_("We have no freight zones yet; ask us to add the address."))
    with transaction.atomic():
        ship_to = ShipTo(company=company, zone=zone, active=False, **address)
        ship_to.named_by, ship_to.waits_since = acting_user, timezone.now()
        _save_checked(ship_to, acting_user)
        tell_place(ship_to, by=acting_user, is_new=True)
    return ship_to


def confirm_own_ship_to(*, acting_user: User, ship_to: ShipTo, zone: FreightZone) -> None:
    """The plant delivers to a place a customer named; who named it is mailed.

    IllegalMove when somebody decided it before.
    """
    change_ship_to(acting_user=acting_user, ship_to=_waiting(ship_to), zone=zone, active=True)


def decline_own_ship_to(*, acting_user: User, ship_to: ShipTo, why: str) -> None:
    """The plant does not deliver there; who named it reads why. The row stays, not active."""
    require_role(acting_user, *KEEPS_CUSTOMERS)
    if not why.strip():
        message = _("Say why; the customer reads it.")
        raise BadInput(message, fields={"why": message})
    ship_to = _waiting(ship_to)
    with transaction.atomic():
        _no_longer_waits(ship_to)
        mail_place_answered(ship_to, acting_user, why=why.strip())


def _waiting(ship_to: ShipTo) -> ShipTo:
    """The row as it is now; IllegalMove unless it waits."""
    rows = ShipTo.objects.select_related("company", "zone", "named_by__company")
    current = rows.get(pk=ship_to.pk)
    if current.waits_since is None:
        raise IllegalMove(_("Somebody has decided about {label} already.").format(label=ship_to))
    return current


def _no_longer_waits(ship_to: ShipTo) -> None:
    """Guarded: of two who decide at once one comes through."""
    waiting = ShipTo.objects.filter(pk=ship_to.pk, waits_since__isnull=False)
    if not waiting.update(waits_since=None):
        raise IllegalMove(_("Somebody has decided about {label} already.").format(label=ship_to))
    ship_to.waits_since = None


def change_own_ship_to(*, acting_user: User, ship_to: ShipTo, **columns: str) -> None:
    """Name and street of a place; another town is another place, with a zone of its own.

    What is planned or made keeps the address it was planned with.
    """
    company = require_may_change_places(acting_user)
    if ship_to.company_id != company.pk or not columns.keys() <= OWN_COLUMNS:
        raise NotAllowed(_("That is not yours to change; ask us."))
    with transaction.atomic():
        for name, value in columns.items():
            setattr(ship_to, name, value)
        _save_checked(ship_to, acting_user)
        tell_place(ship_to, by=acting_user, is_new=False)


def require_may_change_places(acting_user: User) -> Company:
    """The person's company; NotAllowed for who may only look."""
    require_role(acting_user, Role.CUSTOMER)
    if acting_user.company is None or not acting_user.may_order:
        raise NotAllowed(_("You may look; ask whoever orders for your company."))
    return acting_user.company


def set_mails(*, acting_user: User, quotes: bool, orders: bool, shipping: bool) -> None:
    """What a customer's person is mailed of what it can do without."""
    require_role(acting_user, Role.CUSTOMER)
    User.objects.filter(pk=acting_user.pk).update(
        mailed_quotes=quotes, mailed_orders=orders, mailed_shipping=shipping
    )


def _save_checked(row: Company | ShipTo, acting_user: User) -> None:
    """Save after the model's own checks; BadInput in the constraint's words."""
    try:
        row.full_clean()
    except ValidationError as error:
        fields = {name: " ".join(texts) for name, texts in error.message_dict.items()}
        raise BadInput(" ".join(fields.values()), fields=fields) from error
    name_in_history(row, acting_user)
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
