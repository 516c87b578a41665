"""No figure of any pack can drift by a tenth without an example noticing."""

import re
from itertools import chain

import pytest
from figure_edges import EDGES
from law_cases import PACKS, spray
from statute_examples import EXAMPLES

from formulas.engine.law import Verdict, check_application
from formulas.reference import ReferenceDataError
from formulas.reference.rule_packs import PACKS_DIRECTORY, rule_packs

FILES = sorted(path.name for path in PACKS_DIRECTORY.glob("*.toml"))
WORDS = re.compile(
    r"^(note|text|text_as_of|citation|sentence|enhanced_efficiency|other_exceptions) "
)
FIGURE = re.compile(r"(?<![\w.\"-])\d+\.\d+(?![\w.\"-])")
#: Figures no pass or failure can turn on: a rate at which the text stays open (its test stands
#: in test_law_rates), a total that the readily available limit always undercuts, and a zero.
FREE = {
    ("us_md.toml", "certain_above_n_lb = 0.7"),
    ("us_pa.toml", "liquid_exempt_total_lb = 0.9"),
    ("us_pa.toml", "targeted_feet = 0.0"),
}


def answers(pack):
    """What every example says under this pack."""
    codes = {rule.basis.code for rule in pack.rules}
    pairs = chain(
        ((code, example) for code, pair in EXAMPLES.items() for example in pair),
        ((code, example) for code, *pair in EDGES for example in pair),
    )
    return [
        [(f.topic, f.verdict) for f in check_application((pack,), spray(**example))
         if f.rule.code == code]
        for code, example in pairs
        if code in codes
    ]  # fmt: skip


def drifts(text):
    """The text with one figure a tenth lower or higher, and the line it stands in."""
    start = 0
    for line in text.splitlines(keepends=True):
        if not WORDS.match(line) and not line.startswith("#"):
            for figure in FIGURE.finditer(line):
                for factor in (0.9, 1.1):
                    value = repr(round(float(figure[0]) * factor, 4))
                    changed = line[: figure.start()] + value + line[figure.end() :]
                    yield line.strip(), text[:start] + changed + text[start + len(line) :]
        start += len(line)


@pytest.mark.parametrize("file", FILES)
def test_every_figure_is_held_by_an_example(file, tmp_path):
    text = (PACKS_DIRECTORY / file).read_text(encoding="utf-8")
    held = []
    for number, (line, changed) in enumerate([("", text), *drifts(text)]):
        directory = tmp_path / str(number)
        directory.mkdir()
        (directory / file).write_text(changed, encoding="utf-8")
        try:
            (pack,) = rule_packs(directory)
        except ReferenceDataError:
            continue
        if number == 0:
            held = answers(pack)
        elif (file, line) not in FREE:
            assert answers(pack) != held, f"nothing notices another figure in: {line}"


@pytest.mark.parametrize(("code", "keeps", "breaks"), EDGES)
def test_a_figure_holds_at_its_limit_and_not_beyond(code, keeps, breaks):
    pack = next(p for p in PACKS.values() if any(r.basis.code == code for r in p.rules))

    def verdicts(example):
        found = check_application((pack,), spray(**example))
        return {f.verdict for f in found if f.rule.code == code}

    assert verdicts(keeps) == {Verdict.PASSES}
    assert Verdict.FAILS in verdicts(breaks)
