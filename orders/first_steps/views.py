"""Where everybody begins, the list of first steps, and the pages of the plant's own settings."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from blendshop.accounts.models import User
from blendshop.accounts.security_log import address_of
from blendshop.accounts.signed_in import signed_in
from blendshop.plant_steps import STEPS_LEFT, PlantStep
from blendshop.roles import STAFF, Role, role_required, roles_of
from orders.first_steps.actions import (
    add_deck_truck,
    add_package,
    add_tank,
    add_zone,
    give_roles,
    set_plant_profile,
    set_prices,
    set_state_fee,
    set_working_days,
)
from orders.first_steps.forms import (
    DaysForm,
    FeeForm,
    PackageForm,
    PersonOfPlantForm,
    PriceForm,
    ProfileForm,
    TankForm,
    TruckForm,
    ZoneForm,
)
from orders.first_steps.progress import Progress, progress_for
from orders.models import (
    ClosedDay,
    FreightZone,
    Package,
    PlantProfile,
    PricePolicy,
    PriceTier,
    ShipTo,
    StateFee,
    Tank,
    Truck,
)
from orders.records.forms import Refusals


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Each role starts where its work is; the office with what is left to set."""
    roles = roles_of(request.user)
    if Role.OFFICE in roles and not _looked_at(request).may_quote:
        return redirect("first_steps")
    if roles & {Role.REP, Role.FORMULATOR}:
        return redirect("blend_page")
    if Role.PLANT in roles:
        return redirect("the_day")
    if Role.OFFICE in roles:
        return redirect("quote_list")
    if Role.CUSTOMER in roles:
        return redirect("customer_home")
    return redirect("blend_list")


@role_required(*STAFF)
@require_safe
def first_steps(request: HttpRequest) -> HttpResponse:
    """All steps in their order, done or not, and who does them."""
    return render(request, "orders/first_steps/first_steps.html", {"progress": _looked_at(request)})


def _looked_at(request: HttpRequest) -> Progress:
    """The progress; the menu keeps its link while the person's own session knows of steps left."""
    progress = progress_for(signed_in(request), timezone.localdate())
    if request.session.get(STEPS_LEFT) != progress.left:
        request.session[STEPS_LEFT] = progress.left
    return progress


def _of_office(view: Callable[[HttpRequest], HttpResponse]) -> Callable[..., HttpResponse]:
    """A page with a form, for the office alone."""
    guarded: Callable[..., HttpResponse] = role_required(Role.OFFICE)(
        require_http_methods(["GET", "HEAD", "POST"])(view)
    )
    return guarded


@_of_office
def plant_profile(request: HttpRequest) -> HttpResponse:
    profile = PlantProfile.stored()
    # The form checks a row of its own: a refused one must not change the one that is shown.
    return _setting(
        request,
        PlantStep.PROFILE,
        ProfileForm(_sent(request), instance=PlantProfile.stored()),
        set_plant_profile,
        said=_("The plant profile is saved."),
        there=[] if profile is None else [profile],
    )


@_of_office
def price_setting(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    policy = PricePolicy.objects.filter(effective_from__lte=today).first()
    tier = PriceTier.objects.filter(is_default=True).first()
    standing = {"effective_from": today, **PriceForm.standing(policy, tier)}
    form = PriceForm(_sent(request), initial=standing)

    def save(*, acting_user: User, **wanted: Any) -> None:
        rest = {name: value for name, value in wanted.items() if name not in PriceForm.POLICY}
        set_prices(acting_user=acting_user, policy=form.policy, **rest)

    return _setting(request, PlantStep.PRICES, form, save, said=_("The prices are saved."))


@_of_office
def package_setting(request: HttpRequest) -> HttpResponse:
    return _setting(
        request,
        PlantStep.PACKAGES,
        PackageForm(_sent(request)),
        add_package,
        said=_("The package is added."),
        there=Package.objects.filter(active=True),
    )


@_of_office
def tank_setting(request: HttpRequest) -> HttpResponse:
    return _setting(
        request,
        PlantStep.TANKS,
        TankForm(_sent(request)),
        add_tank,
        said=_("The tank is added."),
        there=Tank.objects.filter(active=True),
    )


@_of_office
def day_setting(request: HttpRequest) -> HttpResponse:
    """The week and the holidays; a closed day that was wrong is taken out in the back office."""
    closed = [
        f"{row} {row.why}".strip()
        for row in ClosedDay.objects.filter(day__gte=timezone.localdate())
    ]
    return _setting(
        request,
        PlantStep.DAYS,
        DaysForm(_sent(request), instance=PlantProfile.load()),
        set_working_days,
        said=_("The working days are saved."),
        there=["; ".join(closed)] if closed else [],
    )


@_of_office
def delivery_setting(request: HttpRequest) -> HttpResponse:
    """A zone at a time; the truck once there is a zone that something is driven to."""
    zones = FreightZone.objects.all()
    trucks = Truck.objects.filter(in_use=True, kind=Truck.Kind.DECK)
    wants_truck = zones.filter(pick_up=False).exists() and not trucks.exists()
    return _setting(
        request,
        PlantStep.DELIVERY,
        TruckForm(_sent(request)) if wants_truck else ZoneForm(_sent(request)),
        add_deck_truck if wants_truck else add_zone,
        said=_("The truck is added.") if wants_truck else _("The zone is added."),
        there=[*zones, *trucks],
    )


@_of_office
def fee_setting(request: HttpRequest) -> HttpResponse:
    """One state at a time, first the one that is delivered to and not on record."""
    known = StateFee.objects.all()
    states = ShipTo.objects.filter(active=True).exclude(state__in=known.values("state"))
    state = request.GET.get("state") or states.values_list("state", flat=True).first() or ""
    return _setting(
        request,
        PlantStep.FEES,
        FeeForm(_sent(request), initial=FeeForm.beginning(state)),
        set_state_fee,
        said=_("The fee is saved."),
        there=[row if row.active else _("{fee}, not charged").format(fee=row) for row in known],
    )


@_of_office
def people_setting(request: HttpRequest) -> HttpResponse:
    of_plant = User.objects.filter(company=None, is_active=True).prefetch_related("groups")
    return _setting(
        request,
        PlantStep.PEOPLE,
        PersonOfPlantForm(_sent(request)),
        partial(give_roles, address=address_of(request)),
        said=_("The roles are given; whoever is new is mailed a link to choose a password."),
        there=[
            f"{person} ({person.email}): {', '.join(group.name for group in person.groups.all())}"
            for person in of_plant
        ],
    )


def _sent(request: HttpRequest) -> QueryDict | None:
    return request.POST if request.method == "POST" else None


def _setting(
    request: HttpRequest,
    step: PlantStep,
    form: Any,
    act: Callable[..., object],
    *,
    said: str,
    there: Iterable[object] = (),
) -> HttpResponse:
    """One page: what is there already, and a form. Once saved it leads on to the next step."""
    refusals = Refusals(form)
    if request.method == "POST" and refusals.taken(
        lambda wanted: act(acting_user=signed_in(request), **wanted)
    ):
        messages.success(request, said)
        return redirect("first_steps" if request.session.get(STEPS_LEFT) else request.path)
    context = {"step": step, "form": form, "there": list(map(str, there))}
    status = refusals.status if request.method == "POST" else 200
    return render(request, "orders/first_steps/setting.html", context, status=status)
