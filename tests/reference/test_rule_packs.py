"""The rule packs: complete, honest about what was read, and refused when they are not."""

import shutil
from urllib.parse import urlsplit

import pytest

from formulas.engine.law import Status
from formulas.engine.law.rules import Evidence, LabelSentence, Phosphorus
from formulas.reference import ReferenceDataError
from formulas.reference.rule_packs import PACKS_DIRECTORY, rule_packs

PACKS = {pack.code: pack for pack in rule_packs()}
PARTS = [part for pack in PACKS.values() for part in (*pack.rules, *pack.duties)]


@pytest.fixture
def packs_directory(tmp_path):
    for file in PACKS_DIRECTORY.glob("*.toml"):
        shutil.copy(file, tmp_path)
    return tmp_path


def refused(directory, file, old, new):
    path = directory / file
    text = path.read_text(encoding="utf-8")
    assert old in text, "the test must change something"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReferenceDataError) as refusal:
        rule_packs(directory)
    return str(refusal.value)


def test_every_jurisdiction_whose_rules_were_collected_has_a_pack():
    states = {pack.state for pack in PACKS.values() if not pack.is_local}
    limits = {
        "MD", "PA", "NJ", "DE", "DC", "VA", "NY", "VT", "CT", "ME", "MN", "WI", "MI", "IL", "WA",
        "FL",
    }  # fmt: skip
    labels_only = {
        "UT", "OR", "ID", "GA", "KY", "NM", "AL", "ND", "MT", "TX", "OH", "RI", "IN", "WV", "CA",
    }  # fmt: skip
    assert states == limits | labels_only
    local = {pack.jurisdiction for pack in PACKS.values() if pack.is_local}
    assert {
        "Orange County, Florida",
        "Marion County, Florida",
        "Melbourne Beach, Florida",
        "Palm Shores, Florida",
        "Islamorada, Florida",
    } <= local


def test_only_what_was_read_in_the_laws_own_text_is_active():
    for part in PARTS:
        read = part.basis.evidence is Evidence.CODE_TEXT
        assert (part.basis.status is Status.ACTIVE) is read
        assert read or part.basis.note


def test_a_pack_is_active_only_through_an_active_rule():
    for pack in PACKS.values():
        inside = {part.basis.status for part in (*pack.rules, *pack.duties)}
        assert (pack.status is Status.ACTIVE) is (Status.ACTIVE in inside)
    assert PACKS["US-CT"].status is Status.UNVERIFIED


def test_figures_from_memory_say_so():
    remembered = [part for part in PARTS if part.basis.evidence is Evidence.MEMORY]
    assert remembered
    assert all("from memory" in part.basis.note.lower() for part in remembered)


@pytest.mark.parametrize("code", ["US-NJ.rate-professional", "US-CT.winter", "US-FL.rate"])
def test_figures_nobody_could_verify_stay_unverified(code):
    (part,) = [part for part in PARTS if part.basis.code == code]
    assert part.basis.status is Status.UNVERIFIED


def test_packs_come_by_state_with_the_states_own_first():
    order = [(pack.state, pack.is_local) for pack in rule_packs()]
    assert order == sorted(order)


def test_the_sentence_of_the_district_is_kept_word_for_word():
    (sentence,) = [r for r in PACKS["US-DC"].rules if isinstance(r, LabelSentence)]
    assert sentence.sentence.startswith("Do not apply near water, storm drains or drainage")


def test_a_rate_of_phosphorus_is_read_as_phosphate(packs_directory):
    path = packs_directory / "us_fl.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("needs_reason = false", 'needs_reason = false\nrates_in = "P"'),
        encoding="utf-8",
    )
    florida = next(p for p in rule_packs(packs_directory) if p.code == "US-FL")
    (rule,) = [r for r in florida.rules if isinstance(r, Phosphorus)]
    # 0.25 lb P = 0.57 lb P2O5, the figure Penn State turf faculty print for Act 83 of 2022.
    assert rule.largest_p2o5_lb == pytest.approx(0.57, abs=0.005)
    assert rule.largest_p2o5_lb_per_year == pytest.approx(1.14, abs=0.01)


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("us_me.toml", 'citation = "38', 'cited = "38', "citation is missing"),
        ("us_me.toml", 'citation = "38 M.R.S. 419(1)(A-4), (2)(B)"', 'citation = " "', "is empty"),
        ("us_me.toml", 'date_checked = "2026-11-25"', "", "date_checked is missing"),
        ("us_me.toml", '"2026-11-25"', '"25 November"', "date_checked is not a date"),
        ("us_me.toml", 'status = "active"\n', "", "status is missing"),
        ("us_me.toml", '"active"\n\n[[duty', '"certain"\n\n[[duty', "status is unknown: 'certain'"),
        ("us_me.toml", 'status = "active"\n\n', 'status = "unverified"\n\n', "no rule says so"),
        ("us_me.toml", 'check_with = "M', 'ask = "M', "check_with is missing"),
        ("us_me.toml", "https://", "www.", "is not an address"),
        ("us_me.toml", 'state = "ME"', 'state = "Maine"', "is not a postal code"),
        ("us_me.toml", 'code = "US-ME"', 'code = "US-MD"', "US-MD stands twice"),
        ("us_me.toml", 'topic = "sale"', 'topic = "hearsay"', "topic is unknown"),
        ("us_de.toml", 'evidence = "code text"\n', "", "evidence is missing"),
        ("us_de.toml", '"code text"', '"secondary text"', "is active on evidence 'secondary text'"),
        ("us_de.toml", 'note = "The act', 'text_as_of = "The act', "note must say what is"),
        ("us_de.toml", '"12-07"', '"13-07"', "is not a month and day"),
        ("us_de.toml", '["frozen_or_snow"]', '["muddy"]', "forbidden is unknown"),
        ("us_de.toml", "[[ground]]", "[[mood]]", "mood is not a known key"),
        ("us_md.toml", 'soluble_slow = "unsettled"\n', "", "soluble_slow is missing"),
        ("us_md.toml", "total_lb = 0.9", "total_lb = 90.0", "outside 0.0 to 20.0"),
        ("us_md.toml", "total_lb = 0.9", "total = 0.9", "total is not a known key"),
        ("us_md.toml", "tall_fescue = 2.7", "clover = 2.7", "clover is an unknown grass"),
        ("us_md.toml", "soil_test = true", "soil_test = 1", "soil_test is not true or false"),
        ("us_va.toml", "{ from_slow_pct = 15.0, total_lb = 0.9 }",
         "{ from_slow_pct = 15.0, total_lb = 0.6 }", "must allow more than total_lb"),
        ("us_fl.toml", '"mar"', '"mars"', "unknown month"),
        ("us_fl.toml", "per_application_lb = 0.25\n", "", "yet no rate is given"),
        ("us_ct.toml", '["P2O5"]', '["K2O"]', "nutrients must be of N and P2O5"),
        ("us_fl_palm_shores.toml", 'county = "Brevard"', "", "county is missing for a place"),
    ],
)  # fmt: skip
def test_a_wrong_pack_is_refused_by_file_and_key(packs_directory, file, old, new, said):
    message = refused(packs_directory, file, old, new)
    assert said in message
    assert file in message or "stands twice" in message


#: Hosts on which no active rule may rest: what they hold is nobody's edition of the code.
UNFIT_HOSTS = {
    "forum": ("lawnsite.com", "reddit.com", "blogspot.com"),
    "machine-made mirror": (
        ".ai", "instalawyer.io", "self-law.org", "legalfix.com", "getpocketlaw.com", "laws9.com",
    ),
    "press wire": ("einpresswire.com", "prnewswire.com", "businesswire.com"),
    "document sharing": (
        "docslib.org", "scribd.com", "issuu.com", "123docz.net", "lawsdocbox.com", "cupdf.com",
    ),
}  # fmt: skip


def unfit(url):
    """The kind of unfit host, or None."""
    host = "." + (urlsplit(url).hostname or "")
    for kind, names in UNFIT_HOSTS.items():
        if any(host.endswith("." + name.lstrip(".")) for name in names):
            return kind
    return None


@pytest.mark.parametrize(
    ("url", "kind"),
    [
        ("http://www.lawnsite.com/showpost.php?p=1", "forum"),
        ("https://lexace.ai/us/statute/maryland/AG-6-224", "machine-made mirror"),
        ("https://www.einpresswire.com/article/1", "press wire"),
        ("https://docslib.org/doc/3993470", "document sharing"),
        ("https://mgaleg.maryland.gov/mgawebsite/Laws/StatuteText", None),
    ],
)
def test_the_kinds_of_unfit_hosts(url, kind):
    assert unfit(url) == kind


def test_no_rule_rests_on_a_forum_a_machine_made_mirror_a_press_wire_or_shared_documents():
    bases = [part.basis for part in PARTS]
    assert len(bases) > 150
    assert [(b.code, b.url) for b in bases if unfit(b.url)] == []
    assert [pack.code for pack in PACKS.values() if unfit(pack.url)] == []


def test_a_citation_names_the_law_and_not_where_it_was_copied():
    bases = [part.basis for part in PARTS]
    copied = ("http", "www.", "forum", ".com", "mirror", "printer's number")
    assert [b.code for b in bases if any(word in b.citation for word in copied)] == []


@pytest.mark.parametrize("code", ["US-MD.rate", "US-MD.winter", "US-UT.custom-label"])
def test_what_was_read_in_private_copies_only_is_unverified(code):
    bases = [part.basis for part in PARTS]
    (basis,) = [b for b in bases if b.code == code]
    assert basis.status.value == "unverified"
    assert "private copy" in basis.note
