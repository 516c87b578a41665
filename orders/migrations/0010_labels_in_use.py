"""Labels printed before there were approvals count as approved, until they say something else.

Of each part the newest printed label is taken, in whichever layout, from the snapshot the paper was
drawn from. What no snapshot holds (rules, metals, the package) is left open and not compared. A
label is in use since the day it was first printed so for its revision, state and package.
"""

import json
from decimal import Decimal
from typing import Any

from django.db import migrations

KINDS = ("label_draft", "label_placard", "label_small")
STATEMENTS = ("slow_release_statement", "stabilized_nitrogen_statement", "metals_statement")
#: What the review of a label says whose lines follow the weights of its own load.
FOLLOWS_WEIGHTS = "the guarantees follow the charged weights"


def as_printed(snapshot: dict[str, Any], batch_number: str) -> dict[str, Any]:
    """What a stored label says, as an approval keeps it."""
    follows = any(FOLLOWS_WEIGHTS in note for note in snapshot.get("review_notes", ()))
    return {
        "version": 1,
        "product_name": snapshot["product_name"],
        "package": None,
        "grade": snapshot["grade"],
        "lines": [
            {name: line[name] for name in ("key", "label", "pct")}
            for line in snapshot["guarantees"]
        ],
        "derived_from": list(snapshot["derived_from"]),
        "other_ingredients": [
            item["label"]
            + (f" (derived from {item['derived_from']})" if item.get("derived_from") else "")
            + f" {Decimal(item['pct']):f}%"
            for item in snapshot.get("other_ingredients", ())
        ],
        "statements": [snapshot[name] for name in STATEMENTS if snapshot.get(name)],
        "warnings": None,
        "grade_rule": None,
        "law": None,
        "only_of": batch_number if follows else "",
        "metals_open": None,
        "net_contents": "",
        "packs": [],
    }


def keep_labels_in_use(apps: Any, schema_editor: Any) -> None:
    """One row for each label that is printed today, the oldest first."""
    LabelApproval = apps.get_model("orders", "LabelApproval")
    papers = (
        apps.get_model("orders", "Paper")
        .objects.filter(kind__in=KINDS)
        .exclude(part__batch__status="cancelled")
        .select_related("part__batch", "part__order_line")
        .defer("pdf", "part__batch__plan")
        .order_by("pk")
    )
    newest: dict[int, Any] = {}
    since: dict[tuple[Any, ...], Any] = {}
    for paper in papers.iterator(chunk_size=200):
        part = paper.part
        label = as_printed(paper.snapshot, part.batch.number)
        kind = (
            part.order_line.revision_id,
            part.delivery["ship_to"]["state"],
            part.order_line.package_id,
            json.dumps(label, sort_keys=True),
        )
        since.setdefault(kind, (part.pk, paper.issued_at))
        newest[part.pk] = kind
    for kind in sorted(set(newest.values()), key=lambda each: since[each][1]):
        revision, state, package, label = kind
        part_id, printed_at = since[kind]
        LabelApproval.objects.create(
            revision_id=revision,
            state=state,
            package_id=package,
            part_id=part_id,
            label=json.loads(label),
            in_use_before=True,
            at=printed_at,
        )


def forget_labels_in_use(apps: Any, schema_editor: Any) -> None:
    """Their withdrawals first; approvals that a person gave stay."""
    withdrawn = apps.get_model("orders", "LabelApprovalWithdrawn")
    withdrawn.objects.filter(approval__in_use_before=True).delete()
    apps.get_model("orders", "LabelApproval").objects.filter(in_use_before=True).delete()


class Migration(migrations.Migration):
    dependencies = [("orders", "0009_label_approval")]

    operations = [migrations.RunPython(keep_labels_in_use, forget_labels_in_use)]
