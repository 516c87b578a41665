from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class AccountsConfig(AppConfig):
    """People, the companies they belong to, and the groups that carry the roles."""

    name = "blendshop.accounts"
    label = "accounts"

    def ready(self) -> None:
        post_migrate.connect(self.create_role_groups, dispatch_uid="accounts.role_groups")

    @staticmethod
    def create_role_groups(**kwargs: Any) -> None:
        from blendshop.accounts.role_groups import sync_role_groups

        sync_role_groups()
