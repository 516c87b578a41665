"""Label drafts and assay checks over HTTP; the same code as the commands."""

from collections.abc import Mapping
from typing import Any

from formulas.contracts.assay_checks import assay_check
from formulas.contracts.label_drafts import label_draft
from formulas.http_api.contract import ContractView, described
from formulas.http_api.label_schema import (
    AssayCheckAnswerShape,
    AssayCheckRequestShape,
    LabelDraftAnswerShape,
    LabelDraftRequestShape,
)


@described(
    "label_draft",
    "Draft a label",
    "From an analysis and its sources: what may be guaranteed, always rounded down, in "
    "printed order; what may not, with the rule; metals against their limits. Lines may "
    "be lowered or dropped, never raised. Stateless; a draft for review.",
    request=LabelDraftRequestShape,
    answer=LabelDraftAnswerShape,
    examples={
        "Half slow release, zinc below its minimum": {
            "analysis": {"N.urea": 12.31, "N.slow": 12.9, "K2O": 3.07, "Zn": 0.03},
            "kind": "specialty",
            "sources": [{"name": "urea-triazone solution", "supplies": {"N": 21.0}}],
            "density_lb_per_gal": 10.7,
            "volume_gal": 265,
        }
    },
)
class LabelDraftView(ContractView):
    def answer(self, body: Any) -> Mapping[str, Any]:
        return label_draft(body).contract_json()


@described(
    "assay_check",
    "Check an assay",
    "A laboratory's findings against the guarantees: meets, within the investigational "
    "allowance, or deficient, each with its source, and the overall index. Stateless; a "
    "screening aid.",
    request=AssayCheckRequestShape,
    answer=AssayCheckAnswerShape,
    examples={
        "28-0-0 found short": {
            "guarantees": {"N": 28, "K2O": 0, "Fe": 0.1},
            "found": {"N": 27.2, "Fe": 0.09},
        }
    },
)
class AssayCheckView(ContractView):
    def answer(self, body: Any) -> Mapping[str, Any]:
        return assay_check(body).contract_json()
