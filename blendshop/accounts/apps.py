from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db.models.signals import post_migrate


class AccountsConfig(AppConfig):
    """People, the companies they belong to, and the groups that carry the roles."""

    name = "blendshop.accounts"
    label = "accounts"

    def ready(self) -> None:
        from blendshop.accounts import signals  # noqa: F401
        from blendshop.roles import Role

        unknown = set(settings.SECOND_FACTOR_ROLES) - {role.value for role in Role}
        if unknown:
            raise ImproperlyConfigured(
                f"BLENDSHOP_SECOND_FACTOR names no role of ours: {', '.join(sorted(unknown))}"
            )
        post_migrate.connect(self.create_role_groups, dispatch_uid="accounts.role_groups")

    @staticmethod
    def create_role_groups(**kwargs: Any) -> None:
        from blendshop.accounts.role_groups import sync_role_groups

        sync_role_groups()
