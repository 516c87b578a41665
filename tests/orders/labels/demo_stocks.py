"""The demo's stocks for each test: loaded once a process, then copied row by row.

The loader asks and checks for a second of CPU; the same rows written as they are take a tenth.
Every test still writes its own rows in its own transaction.
"""

import datetime as dt

from django.apps import apps
from django.db import models, transaction

from blendshop.accounts.models import User
from formulas.stocks.actions.shipped import load_base_stocks, load_demo_costs

_loaded: dict[type[models.Model], list[models.Model]] = {}


def load_demo_stocks(maker: User) -> None:
    """Stocks, traits, rules, costs and their history as ``maker`` loaded them.

    They come with the keys they were first given, so they come before any other stock.
    """
    if not _loaded:
        load_base_stocks(acting_user=maker)
        load_demo_costs(acting_user=maker, effective_from=dt.date(2020, 1, 1))
        tables = apps.get_app_config("formulas").get_models(include_auto_created=True)
        _loaded.update({table: list(table._default_manager.all()) for table in tables})
        return
    with transaction.atomic():
        for table, rows in _loaded.items():
            people = [f.attname for f in table._meta.concrete_fields if f.related_model is User]
            for row in rows:
                for name in people:
                    if getattr(row, name) is not None:
                        setattr(row, name, maker.pk)
            table._default_manager.bulk_create(rows)
