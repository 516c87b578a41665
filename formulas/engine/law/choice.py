"""Which packs hold where the truck goes: the state's and every local one, both at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum, auto

from formulas.engine.law.rules import RulePack, Status


@dataclass(frozen=True, slots=True)
class ShipTo:
    """Where the product is sprayed. ``state`` is the postal code; the rest may be empty."""

    state: str
    county: str = ""
    place: str = ""


class RemarkKind(Enum):
    """What must be known of a choice of packs."""

    NO_STATE_PACK = auto()
    NAME_THE_PLACE = auto()
    NO_LOCAL_PACK = auto()
    NOT_READ_IN_LAW = auto()


@dataclass(frozen=True, slots=True)
class Remark:
    """One of them; ``of`` names the state, or the jurisdictions meant."""

    kind: RemarkKind
    of: str = ""

    @property
    def words(self) -> str:
        match self.kind:
            case RemarkKind.NO_STATE_PACK:
                state = self.of or "an unnamed state"
                return f"No rule pack stands for {state}: nothing was checked there."
            case RemarkKind.NAME_THE_PLACE:
                return f"Name the county and place: local rules stand for {self.of}."
            case RemarkKind.NO_LOCAL_PACK:
                return "No local rule pack stands here; local code may still set stricter rules."
            case RemarkKind.NOT_READ_IN_LAW:
                return f"{self.of}: no figure of this pack was read in the law's own text."


@dataclass(frozen=True, slots=True)
class ChosenPacks:
    """The packs that hold, the state's first, and what the reader must know of the choice."""

    packs: tuple[RulePack, ...]
    remarks: tuple[Remark, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        return tuple(remark.words for remark in self.remarks)


def same_name(name: str, other: str) -> bool:
    """Whether two names of a county or place are the same but for case and the word County."""
    return _bare(name) == _bare(other)


def _bare(name: str) -> str:
    words = name.casefold().replace(".", "").split()
    return " ".join(word for word in words if word not in {"county", "parish"})


def choose_packs(packs: Iterable[RulePack], ship_to: ShipTo) -> ChosenPacks:
    """State, county and place packs for this address; what is missing is said."""
    state = ship_to.state.strip().upper()
    here = [pack for pack in packs if pack.state == state]
    chosen = [pack for pack in here if not pack.is_local]
    remarks = []
    if not chosen:
        remarks.append(Remark(RemarkKind.NO_STATE_PACK, state))
    local = [pack for pack in here if pack.is_local]
    chosen += [pack for pack in local if _holds(pack, ship_to)]
    if local and not ship_to.county and not ship_to.place:
        names = ", ".join(sorted(pack.jurisdiction for pack in local))
        remarks.append(Remark(RemarkKind.NAME_THE_PLACE, names))
    elif not any(pack.is_local for pack in chosen):
        remarks.append(Remark(RemarkKind.NO_LOCAL_PACK))
    remarks += [
        Remark(RemarkKind.NOT_READ_IN_LAW, pack.jurisdiction)
        for pack in chosen
        if pack.status is Status.UNVERIFIED
    ]
    return ChosenPacks(tuple(chosen), tuple(remarks))


def _holds(pack: RulePack, ship_to: ShipTo) -> bool:
    """A county pack holds in its county, a place pack in its place."""
    if pack.place:
        right_county = not ship_to.county or same_name(pack.county, ship_to.county)
        return bool(ship_to.place) and right_county and same_name(pack.place, ship_to.place)
    return bool(ship_to.county) and same_name(pack.county, ship_to.county)
