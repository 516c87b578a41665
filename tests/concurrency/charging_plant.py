"""A plant in a database file of its own, for tests that run a real server on it.

Run as a program: migrates, plans one batch, receives its lots and prints what a client needs.
"""

import json
import os
import sys

os.environ["DJANGO_SETTINGS_MODULE"] = "blendshop.settings"


def main() -> None:
    import django

    django.setup()
    from django.core.management import call_command
    from django.test import Client

    from blendshop.roles import Role
    from orders.production.steps import batch_steps
    from tests.factories import CompanyFactory, UserFactory
    from tests.orders.production.charging_cases import lots_of, planned_batch

    call_command("migrate", verbosity=0)
    worker = UserFactory(role=Role.PLANT)
    batch = planned_batch(UserFactory(role=Role.REP), CompanyFactory(), worker)
    lots = lots_of(batch, worker)
    client = Client()
    client.force_login(worker)
    told = {
        "url": f"/batches/{batch.number}/charge/",
        "session": client.cookies["sessionid"].value,
        "person": worker.pk,
        "steps": [
            {
                "step": step.number,
                "target": str(step.target_lb),
                "lot": lots[step.code].code if step.code in lots else "",
            }
            for step in batch_steps(batch)
        ],
    }
    json.dump(told, sys.stdout)


if __name__ == "__main__":
    main()
