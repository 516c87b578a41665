"""The page of a state's rules: all that is on file, what changed in it, and whom it concerns."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from blendshop.notices.models import Notice
from formulas.engine.law.rules import NitrogenPerApplication
from formulas.reference.rule_packs import rule_packs
from orders.compliance import actions, state_rules
from orders.compliance.actions import tell_of_rules
from orders.compliance.check import state_of
from orders.models import RulesChange, ShipTo
from tests.orders.labels.approvals import approve


@pytest.fixture
def maryland():
    return next(pack for pack in rule_packs() if pack.code == "US-MD")


def page_of(client, state="MD"):
    return client.get(reverse("state_rules", args=[state])).content.decode()


def test_every_rule_of_every_pack_stands_on_its_states_page(rep, db):
    """No field of a rule may have no words, and no citation may be lost on the way."""
    for state in {pack.state for pack in rule_packs()}:
        packs = state_rules.packs_of(state)
        shown = state_rules.shown(packs, timezone.localdate())
        assert [len(each.rules) + len(each.duties) for each in shown] == [
            len(pack.rules) + len(pack.duties) for pack in packs
        ]
        for each in shown:
            for rule in (*each.rules, *each.duties):
                assert state_of(rule.basis) == state
                assert rule.title != "rule"
                assert all(label and words for label, words in rule.figures), rule.basis.code


def test_it_says_figures_source_day_and_whom_it_concerns(order, maryland, rep, signed_in):
    ShipTo.objects.filter(pk=order.ship_to_id).update(state="MD")
    page = page_of(signed_in(rep))
    rule = next(rule for rule in maryland.rules if isinstance(rule, NitrogenPerApplication))
    assert f"{rule.largest_total_lb:g} lb/1,000 sq ft" in page
    assert escape(maryland.url) in page
    assert order.number in page
    assert str(order.company) in page
    assert "No change was found" in page
    # Of another state none of it.
    elsewhere = page_of(signed_in(rep), "VA")
    assert order.number not in elsewhere
    listed = signed_in(rep).get(reverse("state_rules_list")).content.decode()
    assert listed.index(">MD<") < listed.index(">AL<")  # delivered to first


def test_a_state_without_rules_says_that_this_is_no_permission(rep, signed_in):
    assert "That is no permission" in page_of(signed_in(rep), "ak")
    for state in ("MDX", "1A", "é1"):
        assert signed_in(rep).get(reverse("state_rules", args=[state])).status_code == 404


def test_what_changed_stands_old_and_new_and_the_notice_leads_there(
    order, maryland, formulator, signed_in, monkeypatch
):
    ShipTo.objects.filter(pk=order.ship_to_id).update(state="MD")
    today = timezone.localdate()
    tell_of_rules(today)
    assert not RulesChange.objects.exists()  # the first look finds no change
    rule = next(rule for rule in maryland.rules if isinstance(rule, NitrogenPerApplication))
    was = rule.largest_total_lb
    rules = tuple(replace(each, largest_total_lb=was + 0.35) if each is rule else each
                  for each in maryland.rules)  # fmt: skip
    monkeypatch.setattr(actions, "rule_packs", lambda: (replace(maryland, rules=rules),))
    tell_of_rules(today)
    tell_of_rules(today)
    told = Notice.objects.get(kind="rules_anew", person=formulator)
    assert told.link == reverse("state_rules", args=["MD"]) + "#US-MD"
    assert RulesChange.objects.count() == 1
    page = page_of(signed_in(formulator))
    assert f"{was:g} → {was + 0.35:g} lb/1,000 sq ft" in page
    assert 'id="US-MD"' in page


def test_rules_read_over_a_year_ago_are_said_to_be(
    order, maryland, formulator, signed_in, monkeypatch
):
    ShipTo.objects.filter(pk=order.ship_to_id).update(state="MD")
    read_on = timezone.localdate() - timedelta(days=366)
    old = replace(maryland, date_checked=read_on)
    for module in (actions, state_rules):
        monkeypatch.setattr(module, "rule_packs", lambda: (old,))
    tell_of_rules(timezone.localdate())
    told = Notice.objects.get(kind="rules_old", person=formulator)
    page = signed_in(formulator).get(told.link.partition("#")[0]).content.decode()
    assert "Read over a year ago" in page
    assert (
        "over a year ago" in signed_in(formulator).get(reverse("state_rules_list")).content.decode()
    )


def test_a_label_approved_before_the_change_is_to_be_read_again(batch, formulator, signed_in):
    state = approve(batch.parts.get()).state
    assert "read it again" not in page_of(signed_in(formulator), state)
    pack = state_rules.packs_of(state)[0]
    RulesChange.objects.create(code=pack.code, said=["most: 0.9 → 1"])
    assert "read it again" in page_of(signed_in(formulator), state)
