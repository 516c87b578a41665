"""Whose paper it is: the plant's name block, a party's address, and the head of a page."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from django.utils.translation import gettext as _

from blendshop.documents.document import Masthead
from blendshop.figures.readers import reader
from blendshop.plant_steps import NotSetUp, PlantStep
from blendshop.snapshot import Snapshot
from orders.models import PlantProfile


@dataclass(frozen=True, slots=True)
class Plant(Snapshot):
    """The plant that issues the paper; ``registrations`` are licence or registration lines."""

    name: str
    address_lines: tuple[str, ...]
    phone: str = ""
    email: str = ""
    registrations: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Party(Snapshot):
    """A company or place: name, address lines and whom to ask for."""

    name: str
    address_lines: tuple[str, ...] = ()
    contact: str = ""


def require_profile() -> None:
    """NotSetUp while nobody has said whose papers they are; for what goes to a customer."""
    if PlantProfile.stored() is None:
        raise NotSetUp(
            _(
                "The plant has no name and address yet, and they head every paper: the office sets"
                " them under First steps, Plant profile."
            ),
            PlantStep.PROFILE,
        )


def plant_block(profile: PlantProfile) -> Plant:
    """The plant's name block of today."""
    return Plant(
        name=profile.name,
        address_lines=tuple(p.strip() for p in profile.address.split(",") if p.strip()),
        phone=profile.phone,
        email=profile.email,
        registrations=(profile.licence_note,) if profile.licence_note else (),
    )


def masthead(
    plant: Plant, paper_name: str, number: str, dated: str, subject: str, banner: str = ""
) -> Masthead:
    """The plant's masthead for one paper."""
    reach = " · ".join(part for part in (plant.phone, plant.email) if part)
    lines = (*plant.address_lines, reach, *plant.registrations)
    return Masthead(
        paper_name=paper_name,
        number=number,
        issuer=plant.name,
        issuer_lines=tuple(line for line in lines if line),
        dated=dated,
        subject=subject,
        banner=banner,
    )


def customers_masthead(
    plant: Plant, paper_name: str, number: str, dated: str, subject: str, banner: str = ""
) -> Masthead:
    """The same on a paper that is drawn in its customer's language."""
    return dataclasses.replace(
        masthead(plant, paper_name, number, dated, subject, banner),
        language=reader().locale.tag,
        page_words=_("Page {number} of {count}"),
    )


def address(party: Party) -> str:
    """Name, address and contact of a party, one a line."""
    contact = _("Attn. {contact}").format(contact=party.contact) if party.contact else ""
    return "\n".join(line for line in (party.name, *party.address_lines, contact) if line)
