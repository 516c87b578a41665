"""Looking whether rules on file say something else than before, and telling of it."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from formulas.reference.rule_packs import rule_packs
from orders.compliance.notices import tell_changed, tell_old
from orders.compliance.rule_changes import differences, said_by
from orders.models import RulesChange, RulesOnFile, ShipTo


def tell_of_rules(today: date) -> None:
    """Formulators and office, for the states the plant ships to: rules that changed, or are old.

    Changed is what says something else than when it was looked at last; a rule that was only read
    again is not. The first look at a place's rules tells nothing.
    """
    states = set(ShipTo.objects.values_list("state", flat=True).distinct())
    packs = [pack for pack in rule_packs() if pack.state in states]
    with transaction.atomic():
        # Held: two looks at once tell once.
        rows = RulesOnFile.objects.select_for_update().filter(code__in=[p.code for p in packs])
        kept = {row.code: row for row in rows}
        changed = [
            (pack, kept[pack.code])
            for pack in packs
            if pack.code in kept and differences(kept[pack.code].said, pack)
        ]
        tell_changed(changed)
        for pack, before in changed:
            RulesChange.objects.create(code=pack.code, said=list(differences(before.said, pack)))
        for pack in packs:
            said = said_by(pack)
            if pack.code not in kept or kept[pack.code].said != said:
                RulesOnFile.objects.update_or_create(
                    code=pack.code, defaults={"said": said, "noted_at": timezone.now()}
                )
        tell_old(packs, today)
