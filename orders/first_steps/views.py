"""Where everybody begins, the list of first steps, and the pages of the plant's own settings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
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
)
from orders.first_steps.forms import (
    PackageForm,
    PersonOfPlantForm,
    PriceForm,
    ProfileForm,
    TankForm,
    TruckForm,
    ZoneForm,
)
from orders.first_steps.progress import Progress, progress_for
from orders.models import FreightZone, Package, PlantProfile, PricePolicy, PriceTier, Tank, Truck
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


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def plant_profile(request: HttpRequest) -> HttpResponse:
    profile = PlantProfile.stored()
    sent = request.POST if request.method == "POST" else None
    # The form checks a row of its own: a refused one must not change the one that is shown.
    form = ProfileForm(sent, instance=PlantProfile.stored())
    return _setting(
        request,
        PlantStep.PROFILE,
        form,
        lambda wanted: set_plant_profile(acting_user=signed_in(request), **wanted),
        said=_("The plant profile is saved."),
        there=[] if profile is None else [str(profile)],
    )


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def price_setting(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    policy = PricePolicy.objects.filter(effective_from__lte=today).first()
    tier = PriceTier.objects.filter(is_default=True).first()
    sent = request.POST if request.method == "POST" else None
    form = PriceForm(sent, initial={"effective_from": today, **PriceForm.standing(policy, tier)})

    def save(wanted: dict[str, Any]) -> None:
        set_prices(
            acting_user=signed_in(request),
            policy=form.policy,
            **{name: value for name, value in wanted.items() if name not in PriceForm.POLICY},
        )

    return _setting(request, PlantStep.PRICES, form, save, said=_("The prices are saved."))


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def package_setting(request: HttpRequest) -> HttpResponse:
    sent = request.POST if request.method == "POST" else None
    return _setting(
        request,
        PlantStep.PACKAGES,
        PackageForm(sent),
        lambda wanted: add_package(acting_user=signed_in(request), **wanted),
        said=_("The package is added."),
        there=[str(row) for row in Package.objects.filter(active=True)],
    )


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def tank_setting(request: HttpRequest) -> HttpResponse:
    sent = request.POST if request.method == "POST" else None
    return _setting(
        request,
        PlantStep.TANKS,
        TankForm(sent),
        lambda wanted: add_tank(acting_user=signed_in(request), **wanted),
        said=_("The tank is added."),
        there=[str(row) for row in Tank.objects.filter(active=True)],
    )


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def delivery_setting(request: HttpRequest) -> HttpResponse:
    """A zone at a time; the truck once there is a zone that something is driven to."""
    sent = request.POST if request.method == "POST" else None
    zones = FreightZone.objects.all()
    trucks = Truck.objects.filter(in_use=True, kind=Truck.Kind.DECK)
    there = [*map(str, zones), *map(str, trucks)]
    user = signed_in(request)
    if zones.filter(pick_up=False).exists() and not trucks.exists():
        return _setting(
            request,
            PlantStep.DELIVERY,
            TruckForm(sent),
            lambda wanted: add_deck_truck(acting_user=user, **wanted),
            said=_("The truck is added."),
            there=there,
        )
    return _setting(
        request,
        PlantStep.DELIVERY,
        ZoneForm(sent),
        lambda wanted: add_zone(acting_user=user, **wanted),
        said=_("The zone is added."),
        there=there,
    )


@role_required(Role.OFFICE)
@require_http_methods(["GET", "HEAD", "POST"])
def people_setting(request: HttpRequest) -> HttpResponse:
    sent = request.POST if request.method == "POST" else None
    of_plant = User.objects.filter(company=None, is_active=True).prefetch_related("groups")
    there = [
        f"{person} ({person.email}): {', '.join(group.name for group in person.groups.all())}"
        for person in of_plant
    ]
    return _setting(
        request,
        PlantStep.PEOPLE,
        PersonOfPlantForm(sent),
        lambda wanted: give_roles(
            acting_user=signed_in(request), address=address_of(request), **wanted
        ),
        said=_("The roles are given; whoever is new is mailed a link to choose a password."),
        there=there,
    )


def _setting(
    request: HttpRequest,
    step: PlantStep,
    form: Any,
    save: Callable[[dict[str, Any]], object],
    *,
    said: str,
    there: list[str] | None = None,
) -> HttpResponse:
    """One page: what is there already, and a form. Once saved it leads on to the next step."""
    refusals = Refusals(form)
    if request.method == "POST" and refusals.taken(save):
        messages.success(request, said)
        return redirect("first_steps" if request.session.get(STEPS_LEFT) else request.path)
    context = {"step": step, "form": form, "there": there or []}
    status = refusals.status if request.method == "POST" else 200
    return render(request, "orders/first_steps/setting.html", context, status=status)
