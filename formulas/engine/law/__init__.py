"""The law of lawn fertilizer as data and pure functions: no files, no clock, no database.

``choose_packs`` finds the packs that hold at an address, ``check_application`` and
``check_season`` screen what is sprayed, ``wishes_for`` and ``largest_n_rate`` turn the rules
into limits for the solver and the spray sheet, ``duties`` lists what else the law asks.
"""

from formulas.engine.law.application import GRASSES, Application, Circumstances, at_n_rate
from formulas.engine.law.check import Governing, check_application, duties, governing
from formulas.engine.law.choice import ChosenPacks, ShipTo, choose_packs
from formulas.engine.law.finding import CAUTION, LawFinding, Verdict, overall
from formulas.engine.law.rate_bound import LargestRate, largest_n_rate
from formulas.engine.law.rules import Basis, Duty, DutyTopic, RulePack, Status, Topic
from formulas.engine.law.season import ANNUAL, check_season
from formulas.engine.law.wishes import LegalWishes, WishReason, wishes_for

__all__ = [
    "ANNUAL",
    "CAUTION",
    "GRASSES",
    "Application",
    "Basis",
    "ChosenPacks",
    "Circumstances",
    "Duty",
    "DutyTopic",
    "Governing",
    "LargestRate",
    "LawFinding",
    "LegalWishes",
    "RulePack",
    "ShipTo",
    "Status",
    "Topic",
    "Verdict",
    "WishReason",
    "at_n_rate",
    "check_application",
    "check_season",
    "choose_packs",
    "duties",
    "governing",
    "largest_n_rate",
    "overall",
    "wishes_for",
]
