"""What a customer holds in its hand speaks the trade's words: no key, no figure for a machine.

One batch with every kind of content and more than ten thousand pounds, quoted, made, read by a
laboratory, released against a reading, filled, shipped and called back; every paper of it that
goes to a customer is issued and read back.
"""

import io
import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, Final

import pytest
from django.core import mail
from pypdf import PdfReader

from blendshop.accounts.models import Company, User
from blendshop.outbox.actions import deliver_overdue
from formulas.engine.composition import ANALYSIS_KEYS, SLOW_RELEASE, WISH_KEYS
from orders.labels.actions import issue_label_draft, issue_label_placard, issue_small_label
from orders.models import Batch, Order, Paper, Quote, Tank
from orders.ordering.actions import mark_shipped
from orders.papers.actions import issue_certificate, issue_package_labels, issue_packing_list
from orders.planning.actions.planning import plan_batches
from orders.production.actions.batches import release_batch
from orders.production.actions.packaging import fill_packages
from orders.quoting.actions.paper import issue_quote_paper
from orders.recall.actions import issue_recall_letter, open_recall
from tests.factories import BaseStockFactory
from tests.orders.labels.approvals import approve_labels
from tests.orders.planning.plant_cases import WISH, accepted_order, make_shop, save_half_slow
from tests.orders.production.charging_cases import charged_and_made, new_key, read_density

#: Contents of an invented stock that brings a little of everything, percent by weight.
LITTLE_OF_ALL: Final = {
    "P2O5": 6.0, "K2O": 6.0, "Ca": 5.0, "Mg": 4.0, "S": 6.0, "B": 0.6, "Cl": 0.9, "Co": 0.01,
    "Cu": 0.6, "Fe": 2.0, "Mn": 0.8, "Mo": 0.01, "Na": 1.0, "Zn": 0.8, "humic_acid": 8.0,
    "fulvic_acid": 4.0, "seaweed_extract": 4.0, "NBPT": 0.5, "DCD": 0.5, "N.insoluble": 3.0,
}  # fmt: skip
RELEASED_FOR: Final = "Valve seven dripped into the sight glass"
CALLED_BACK_FOR: Final = "Nordwind sent drums of another grade"

#: Keys as the engine and its tables spell them, where a name would have to stand.
_KEYS: Final = sorted(
    key for key in {*ANALYSIS_KEYS, *WISH_KEYS, SLOW_RELEASE} if not key.isalnum()
)
#: What no customer should read, by what it would mean.
UNFIT: Final[Mapping[str, re.Pattern[str]]] = {
    "key of the engine": re.compile("|".join(map(re.escape, _KEYS))),
    "exponent": re.compile(r"\d(?:\.\d+)?e[+-]?\d{1,3}\b|\d(?:\.\d+)?E\+\d"),
    "value for nothing": re.compile(r"\b(?:None|nan|inf|null|True|False)\b"),
    "underscore": re.compile(r"\w_\w|\b_\w|\w_\b"),
    "name of a program": re.compile(
        r"\b(?:Decimal|dataclass|snapshot|idempotent|fixture)\b", re.IGNORECASE
    ),
    "brackets of a program": re.compile(r"\{\w*\}|\[\]|<\w+ object|%\(\w+\)"),
    "reason of the plant's own": re.compile(
        f"{RELEASED_FOR}|{CALLED_BACK_FOR}|Released with a reason", re.IGNORECASE
    ),
}
#: Lines to write on, addresses, and what a state or a log says of nothing.
_NO_WORDS: Final = re.compile(r"_{3,}|https?://\S+|None: every line|None on impervious surfaces")


def unfit(text: str) -> list[str]:
    """What of a text a customer should not read, with what stands around it."""
    words = _NO_WORDS.sub(" ", " ".join(text.split()))
    return [
        f"{what}: …{words[max(0, found.start() - 30) : found.end() + 30]}…"
        for what, pattern in UNFIT.items()
        for found in pattern.finditer(words)
    ]


@pytest.mark.parametrize(
    "text",
    [
        "0.5% N.ammoniacal",
        "humic_acid 1%",
        "net 1.299e+04 lb",
        "net 1.299E+4 lb",
        "Delivered None",
        "nan lb/gal",
        "Decimal('3')",
        "%(batch)s is released",
        f"Released with a reason: {RELEASED_FOR}",
    ],
)
def test_what_is_unfit_is_found(text: str) -> None:
    assert unfit(text)
    assert not unfit(
        "12,990 lb of Half slow 24-0-3, K₂O 3%. Signed ______ https://a.example/b_c/ 5E-1.003"
    )


def text_of(paper: Paper) -> str:
    pages = PdfReader(io.BytesIO(bytes(paper.pdf))).pages
    return "\n".join(page.extract_text() for page in pages)


def _order(rep: User, company: Company) -> Order:
    make_shop()
    BaseStockFactory(
        code="ALL", name="mixed trace solution", density_lb_per_gal=11.0, analysis=LITTLE_OF_ALL,
        charging_rank=60, cost_per_lb="0.5000",
    )  # fmt: skip
    wish: dict[str, Any] = {
        **WISH,
        "targets": [
            {"nutrient": "N", "min": 18},
            {"nutrient": "K2O", "min": 2},
            {"nutrient": "humic_acid", "min": 0.8},
        ],
    }
    revision = save_half_slow(rep, company, "A little of everything", wish)
    return accepted_order(rep, company, revision=revision, quantity=4)


def _made(order: Order, plant_worker: User, formulator: User) -> Batch:
    (batch,) = plan_batches(order=order, tank=Tank.objects.get(), acting_user=plant_worker)
    charged_and_made(batch, plant_worker)
    read_density(
        batch, plant_worker, appearance="hazy", ph=7.1, lab_source="Field Lab, report 7",
        lab_analysis={"N.ammoniacal": 1.5, "N": 18.4, "humic_acid": 0.9},
    )  # fmt: skip
    release_batch(
        batch=batch, acting_user=formulator, why=f"{RELEASED_FOR}.", reading_is_wrong=False
    )
    fill_packages(
        part=batch.parts.get(),
        net_lb=[Decimal("2690.5")] * 4,
        key=new_key(),
        acting_user=plant_worker,
    )
    return batch


def _papers(
    order: Order, batch: Batch, plant_worker: User, formulator: User
) -> Iterator[tuple[str, Paper]]:
    by, part = {"acting_user": plant_worker}, batch.parts.get()
    quote = Quote.objects.get(order=order)
    yield "quote", issue_quote_paper(quote=quote, acting_user=quote.created_by)
    yield "certificate", issue_certificate(part=part, **by)
    yield "packing list", issue_packing_list(order=order, **by)
    for stock in ("", "4x6", "4x2"):
        yield f"package labels {stock}", issue_package_labels(batch=batch, stock=stock, **by)
    yield "label on letter pages", issue_label_draft(part=part, **by)
    yield "placard", issue_label_placard(part=part, **by)
    yield "label 4 by 6", issue_small_label(part=part, **by)
    order.refresh_from_db()
    approve_labels(order)
    mark_shipped(order=order, **by)
    recall = open_recall(
        source=batch.number,
        reason=f"{CALLED_BACK_FOR}.",
        customer_reason="It may burn turf at the usual rate.",
        acting_user=formulator,
    )
    yield (
        "recall letter",
        issue_recall_letter(recall=recall, company=order.company, acting_user=formulator),
    )


def test_no_paper_or_mail_of_a_customer_says_what_only_we_understand(
    db: None, rep: User, company: Company, plant_worker: User, formulator: User
) -> None:
    order = _order(rep, company)
    batch = _made(order, plant_worker, formulator)
    texts = {
        name: text_of(paper) for name, paper in _papers(order, batch, plant_worker, formulator)
    }
    deliver_overdue.call()
    texts |= {f"mail {letter.subject}": letter.body for letter in mail.outbox}
    wrong = [f"{name}: {words}" for name, text in texts.items() for words in unfit(text)]
    assert "\n".join(wrong) == ""
    assert "10,762" in texts["packing list"], "the batch is a large one"
    assert "Humic acid" in " ".join(texts["label on letter pages"].split()).replace("acids", "acid")
