"""Recalls: opened, held, worded, told, freed, closed; a letter to each customer."""

from datetime import datetime
from typing import Any, Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from blendshop.accounts.models import Company, User
from blendshop.errors import BadInput, ChangedMeanwhile, IllegalMove
from blendshop.figures.readers import house
from blendshop.roles import RECALLERS, STAFF, Role, require_role
from orders.inventory.actions.lot_quality import hold_lot
from orders.models import (
    Batch,
    HeldByRecall,
    Paper,
    Recall,
    RecallCustomer,
    RecallEvent,
    StockLot,
    ToldOfRecall,
)
from orders.papers.actions import issue_paper
from orders.production.actions.charging import already_written, require_key
from orders.production.notices import tell_held
from orders.recall.affected import Affected, AffectedCustomer, affected
from orders.recall.letter_pdf import render_recall_letter
from orders.recall.letter_view import recall_letter_view
from orders.records.moves import move
from orders.records.numbering import next_number

RECALL_PREFIX: Final = "R"
#: What a customer reads, and whether the product may leave after all, is the formulator's.
JUDGES: Final = (Role.FORMULATOR,)
#: Who calls customers and writes down that it was done.
CALLERS: Final = (Role.REP, Role.FORMULATOR, Role.OFFICE)


def open_recall(
    *, source: str, reason: str, acting_user: User, customer_reason: str = ""
) -> Recall:
    """Begin a recall of a lot, supplier's lot, batch, order or package. Nothing is held yet."""
    require_role(acting_user, *RECALLERS)
    if customer_reason.strip():
        require_role(acting_user, *JUDGES)
    if not reason.strip():
        raise BadInput(
            gettext("Say why it is called back."), fields={"reason": gettext("Give a reason.")}
        )
    asked = source.strip()
    if affected(asked) is None:
        message = (
            gettext("Nothing is known as %(asked)s.") % {"asked": asked[:80]}
            if asked
            else gettext("Say what is called back.")
        )
        raise BadInput(message, fields={"source": message})
    with transaction.atomic():
        recall = Recall.objects.create(
            number=next_number(RECALL_PREFIX),
            source=asked,
            reason=reason.strip()[:400],
            customer_reason=customer_reason.strip(),
            opened_by=acting_user,
        )
        _note(recall, acting_user, "opened", f"Recall of {asked}: {recall.reason}")
    return recall


def hold_all(*, recall: Recall, acting_user: User) -> None:
    """Stop everything that has something of it in it: lots, batches, packages that are here.

    A mixed batch is held by its own move; any other is stopped by the recall, which release,
    filling and shipping read. What was shipped stays shipped. Held again, it takes in what has
    come in since.
    """
    require_role(acting_user, *RECALLERS)
    why = f"Recall {recall.number}: {recall.reason}"[:400]
    with transaction.atomic():
        _locked(recall)
        found = reached(recall)
        lots = [
            part
            for lot in found.lots
            if lot.state != StockLot.State.HELD
            for part in hold_lot(lot=lot, why=why, acting_user=acting_user)
        ]
        held = set(recall.held.values_list("batch", flat=True))
        batches = Batch.objects.live().filter(pk__in=found.batch_ids).order_by("pk")
        new = [batch for batch in batches if batch.pk not in held]
        HeldByRecall.objects.bulk_create(HeldByRecall(recall=recall, batch=each) for each in new)
        for batch in batches:
            if batch.status == Batch.Status.MADE:
                move(batch, Batch.Status.HELD, acting_user=acting_user, why=why)
                tell_held(batch, why, by=acting_user)
        now = timezone.now()
        Recall.objects.filter(pk=recall.pk).update(held_at=now, freed_at=None)
        recall.held_at, recall.freed_at = now, None
        told = (
            f"Held what was not held yet: {_counted(len(lots), 'lot', 'lots')} and"
            f" {_counted(len(new), 'batch', 'batches')}."
        )
        _note(recall, acting_user, "held", told)


def _counted(number: int, one: str, many: str) -> str:
    return f"{house().every_digit(number)} {one if number == 1 else many}"


def write_customer_reason(*, recall: Recall, customer_reason: str, acting_user: User) -> None:
    """What customers are told of why; letters printed before stay as they were issued."""
    require_role(acting_user, *JUDGES)
    if not customer_reason.strip():
        message = gettext("Say what customers are told.")
        raise BadInput(message, fields={"customer_reason": message})
    with transaction.atomic():
        _locked(recall)
        Recall.objects.filter(pk=recall.pk).update(customer_reason=customer_reason.strip())
        recall.customer_reason = customer_reason.strip()
        _note(recall, acting_user, "worded", "Words for customers written.")


def free_all(*, recall: Recall, why: str, acting_user: User) -> None:
    """The recall stops its batches no longer; held lots and held batches are freed one by one."""
    require_role(acting_user, *JUDGES)
    _require_why(why)
    with transaction.atomic():
        holding = Recall.objects.filter(pk=recall.pk, held_at__isnull=False, freed_at__isnull=True)
        now = timezone.now()
        if holding.update(freed_at=now) != 1:
            raise IllegalMove(gettext("%(recall)s holds nothing.") % {"recall": recall.number})
        recall.freed_at = now
        _note(recall, acting_user, "freed", why)


def close_recall(*, recall: Recall, why: str, acting_user: User) -> None:
    """Everybody is told and everything dealt with; what is held stays held."""
    require_role(acting_user, *RECALLERS)
    _require_why(why)
    with transaction.atomic():
        now = timezone.now()
        if Recall.objects.filter(pk=recall.pk, closed_at__isnull=True).update(closed_at=now) != 1:
            raise IllegalMove(gettext("%(recall)s is closed already.") % {"recall": recall.number})
        recall.closed_at = now
        _note(recall, acting_user, "closed", why)


def tell(
    *,
    recall: Recall,
    company: Company,
    way: str,
    told_at: datetime,
    key: str,
    acting_user: User,
    note: str = "",
) -> ToldOfRecall:
    """Write down once that a customer was told."""
    require_role(acting_user, *CALLERS)
    require_key(key)
    if way not in ToldOfRecall.Way.values:
        raise BadInput(
            gettext("Choose how."), fields={"way": gettext("Choose phone, mail or letter.")}
        )
    if told_at > timezone.now():
        raise BadInput(
            gettext("That is still to come."), fields={"told_at": gettext("Not later than now.")}
        )
    concerned(recall, company)
    with transaction.atomic():
        if done := already_written(ToldOfRecall, key):
            return done
        customer, _ = RecallCustomer.objects.get_or_create(recall=recall, company=company)
        written: ToldOfRecall = ToldOfRecall.objects.create(
            customer=customer,
            way=way,
            told_at=told_at,
            note=note.strip()[:400],
            key=key,
            by=acting_user,
            who=str(acting_user),
        )
    return written


def issue_recall_letter(*, recall: Recall, company: Company, acting_user: User) -> Paper:
    """The letter to one customer, the stored one while it would say the same."""
    require_role(acting_user, *STAFF)
    view = recall_letter_view(recall, concerned(recall, company))
    with transaction.atomic():
        customer, _ = RecallCustomer.objects.get_or_create(recall=recall, company=company)
        return issue_paper(
            Paper.Kind.RECALL_LETTER, customer, view, render_recall_letter, acting_user
        )


def reached(recall: Recall) -> Affected:
    """What the recall reaches today."""
    found = affected(recall.source)
    if found is None:
        raise IllegalMove(
            gettext("Nothing is known as %(source)s any more.") % {"source": recall.source}
        )
    return found


def concerned(recall: Recall, company: Company) -> AffectedCustomer:
    """What a customer has of it; IllegalMove when nothing was shipped to it."""
    for customer in reached(recall).customers:
        if customer.company == company:
            return customer
    raise IllegalMove(
        gettext("Nothing of %(recall)s was shipped to %(company)s.")
        % {"recall": recall.number, "company": company}
    )


def _require_why(why: str) -> None:
    if not why.strip():
        raise BadInput(gettext("Give a reason."), fields={"why": gettext("Give a reason.")})


def _locked(recall: Recall) -> None:
    now = Recall.objects.select_for_update().get(pk=recall.pk)
    if now.closed_at is not None:
        raise ChangedMeanwhile(gettext("%(recall)s is closed.") % {"recall": recall.number})


def _note(recall: Recall, acting_user: User, to: str, why: str, **data: Any) -> None:
    RecallEvent.objects.create(
        recall=recall, by=acting_user, who=str(acting_user), to_status=to, why=why[:400], data=data
    )
