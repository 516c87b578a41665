"""Label drafts and assay checks as text for a terminal."""

from collections.abc import Iterable

from formulas.answers.assay import AssayAnswer
from formulas.answers.label import MetalInPpm, MetalPerYear, ScreenedLabelAnswer


def draft_table(answer: ScreenedLabelAnswer) -> str:
    """The draft's own lines, then what a reviewer must know."""
    return "\n".join([answer.text, *_review(answer)])


def _review(answer: ScreenedLabelAnswer) -> Iterable[str]:
    yield ""
    for item in answer.not_claimed:
        yield f"Not claimed: {item.rule} ({item.source})"
    for hint in answer.hints:
        yield f"Near: {hint.message}"
    for entry in answer.changes:
        to = "dropped" if entry.to_pct is None else f"{entry.to_pct:g} %"
        yield f"Changed: {entry.label} {entry.from_pct:g} % to {to} ({entry.reason})"
    for finding in (*answer.cautions, *answer.notes):
        yield f"[{finding.severity}] {finding.message} ({finding.source})"
    for metal in answer.metals:
        yield from _metal(metal, metal.found_ppm, metal.limit_ppm, "ppm")
    for yearly in answer.metals_yearly or ():
        found, limit = yearly.found_lb_per_acre_year, yearly.limit_lb_per_acre_year
        yield from _metal(yearly, found, limit, "lb per acre and year")
    yield answer.caution


def _metal(
    check: MetalInPpm | MetalPerYear, found: float | None, limit: float | None, unit: str
) -> Iterable[str]:
    """A line, where the rule sets the metal a limit."""
    if limit is None:
        return
    amount = "no figure" if found is None else f"{found:g}"
    verdict = check.verdict.replace("_", " ")
    mark = "" if check.verified else ", unverified"
    yield (
        f"Metals, {check.rule}: {check.name} {amount} of at most {limit:g} {unit}: "
        f"{verdict}{mark} ({check.source})"
    )


def assay_table(answer: AssayAnswer) -> str:
    """One line a guarantee, then the index."""
    return "\n".join(_assay_lines(answer))


def _assay_lines(answer: AssayAnswer) -> Iterable[str]:
    yield f"{'':<14} {'guaranteed':>10} {'found':>10} {'allowance':>10} {'floor':>10}"
    for item in answer.nutrients:
        found = "" if item.found is None else f"{item.found:g}"
        allowance = "none" if item.allowance is None else f"{item.allowance:g}"
        mark = "" if item.verified or not item.source else " (allowance unverified)"
        yield (
            f"{item.key:<14} {item.guaranteed:>10g} {found:>10} {allowance:>10} "
            f"{item.floor:>10g}  {item.verdict.replace('_', ' ')}{mark}"
        )
    if answer.index_value_pct is not None:
        yield (
            f"Overall index {answer.index_value_pct:.2f} %, at least "
            f"{answer.index_floor_pct:g} % asked: {answer.index_verdict} "
            f"({answer.index_source})"
        )
    yield answer.caution
