"""Back office of people and companies. Roles are groups; people sign in by email."""

from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin as DjangoUserAdmin
from django.contrib.auth.forms import AdminUserCreationForm
from django.contrib.auth.forms import UserChangeForm as DjangoUserChangeForm
from django.contrib.auth.models import Group
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext as _

from blendshop.accounts.models import Company, User
from blendshop.back_office import HistoryAdmin
from blendshop.roles import STAFF, Role

admin.site.unregister(Group)  # the groups are the roles; their rights stand in role_groups.py


if TYPE_CHECKING:
    _AnyForm = forms.BaseForm
    _AddForm = AdminUserCreationForm[User]
    _ChangeForm = DjangoUserChangeForm[User]
    _PersonAdmin = DjangoUserAdmin[User]
else:  # Django's own classes take no type when they run
    _AnyForm = object
    _AddForm = AdminUserCreationForm
    _ChangeForm = DjangoUserChangeForm
    _PersonAdmin = DjangoUserAdmin


class RoleChecks(_AnyForm):
    """What email, company and roles must be together; for both forms of a person."""

    cleaned_data: dict[str, Any]

    def clean_email(self) -> str:
        return str(self.cleaned_data["email"]).lower()

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        roles = {group.name for group in cleaned.get("groups") or ()}
        company = cleaned.get("company")
        if Role.CUSTOMER.value in roles and company is None:
            raise forms.ValidationError(_("A customer belongs to a company; choose it."))
        if company is not None and roles & {role.value for role in STAFF}:
            raise forms.ValidationError(_("Somebody of the plant does not belong to a customer."))
        return cleaned


class PersonAddForm(RoleChecks, _AddForm):
    class Meta:
        model = User
        fields = ("email", "name", "company", "groups", "is_staff")


class PersonChangeForm(RoleChecks, _ChangeForm):
    class Meta:
        model = User
        fields = "__all__"


@admin.register(User)
class UserAdmin(_PersonAdmin):
    form = PersonChangeForm
    add_form = PersonAddForm
    list_display = ("email", "name", "company", "roles", "is_staff", "is_active")
    list_filter = ("groups", "is_active", "is_staff")
    list_select_related = ("company",)
    search_fields = ("email", "name", "company__name")
    ordering = ("name", "pk")
    readonly_fields = ("last_login", "date_joined")
    autocomplete_fields = ("company",)
    filter_horizontal: ClassVar = ("groups",)
    _person = ("email", "name", "company", "groups", "is_staff", "is_active")
    fieldsets = (
        (None, {"fields": (*_person, "password")}),
        ("Dates", {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = (
        (
            None,
            {
                "fields": (
                    "email",
                    "name",
                    "company",
                    "groups",
                    "is_staff",
                    "usable_password",
                    "password1",
                    "password2",
                )
            },
        ),
    )

    @admin.display(description="roles")
    def roles(self, user: User) -> str:
        return ", ".join(group.name for group in user.groups.all())

    def get_queryset(self, request: HttpRequest) -> QuerySet[User]:
        return super().get_queryset(request).prefetch_related("groups")

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody but a superuser changes a superuser, or their password."""
        if obj is not None and obj.is_superuser and not request.user.is_superuser:
            return False
        return super().has_change_permission(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """People are made inactive: events and quotes name them."""
        return False


@admin.register(Company)
class CompanyAdmin(HistoryAdmin):
    list_display = ("name", "phone", "active")
    list_filter = ("active",)
    search_fields = ("name",)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
