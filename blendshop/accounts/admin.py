"""Back office of people and companies. Roles are groups; people sign in by email."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.contrib import admin, messages
from django.contrib.auth.admin import UserAdmin as DjangoUserAdmin
from django.contrib.auth.forms import UserChangeForm as DjangoUserChangeForm
from django.contrib.auth.models import Group
from django.db import transaction
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from blendshop.accounts.actions.way_in import (
    Standing,
    end_sessions,
    invite_staff,
    note_changes,
    remove_second_factor,
)
from blendshop.accounts.models import Company, User
from blendshop.accounts.security_log import address_of
from blendshop.accounts.signed_in import signed_in
from blendshop.back_office import HistoryAdmin
from blendshop.errors import NotAllowed
from blendshop.roles import STAFF, Role

admin.site.unregister(Group)  # the groups are the roles; their rights stand in role_groups.py


if TYPE_CHECKING:
    _AnyForm = forms.BaseForm
    _AddForm = forms.ModelForm[User]
    _ChangeForm = DjangoUserChangeForm[User]
    _PersonAdmin = DjangoUserAdmin[User]
else:  # Django's own classes take no type when they run
    _AnyForm = object
    _AddForm = forms.ModelForm
    _ChangeForm = DjangoUserChangeForm
    _PersonAdmin = DjangoUserAdmin


#: What decides where somebody may go; another person changes it.
_OF_ANOTHER = ("email", "company", "groups", "is_staff", "is_active")


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
    """No password: the person chooses it through the link that is mailed."""

    class Meta:
        model = User
        fields = ("email", "name", "phone", "company", "groups", "is_staff")

    def save(self, commit: bool = True) -> User:  # noqa: FBT001, FBT002 # as in Django
        self.instance.set_unusable_password()
        return super().save(commit)


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
    search_help_text = gettext_lazy("Mail address, name or company")
    ordering = ("name", "pk")
    readonly_fields = ("last_login", "date_joined")
    autocomplete_fields = ("company",)
    filter_horizontal: ClassVar = ("groups",)
    _person = ("email", "name", "phone", "company", "groups", "is_staff", "is_active")
    fieldsets = (
        (None, {"fields": (*_person, "password")}),
        ("Dates", {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = (
        (None, {"fields": ("email", "name", "phone", "company", "groups", "is_staff")}),
    )
    actions = ("remove_second_factor", "end_sessions")

    @admin.display(description="roles")
    def roles(self, user: User) -> str:
        return ", ".join(group.name for group in user.groups.all())

    def get_queryset(self, request: HttpRequest) -> QuerySet[User]:
        return super().get_queryset(request).prefetch_related("groups")

    def get_readonly_fields(self, request: HttpRequest, obj: User | None = None) -> Any:
        """Nobody gives himself a role, or any other way in."""
        fields = super().get_readonly_fields(request, obj)
        own = obj is not None and obj.pk == request.user.pk
        return (*fields, *_OF_ANOTHER) if own else fields

    def save_model(self, request: HttpRequest, obj: User, form: Any, change: bool) -> None:  # noqa: FBT001 # as in Django
        form.before = Standing.of(obj) if change else None
        super().save_model(request, obj, form, change)

    def save_related(
        self,
        request: HttpRequest,
        form: Any,
        formsets: Any,
        change: bool,  # noqa: FBT001 # as in Django
    ) -> None:
        """Groups are saved last: here the change is complete, in the page's one transaction."""
        super().save_related(request, form, formsets, change)
        by, person = signed_in(request), form.instance
        if form.before is None:
            invite_staff(acting_user=by, person=person, address=address_of(request))
        else:
            note_changes(
                acting_user=by, person=person, before=form.before, address=address_of(request)
            )

    def user_change_password(
        self, request: HttpRequest, id: str, form_url: str = ""
    ) -> HttpResponse:
        """Another's password; the own one is changed under the own sign-in, with the old one."""
        by = signed_in(request)
        person = self.get_object(request, id)
        if person is None:
            raise Http404
        if person.pk == by.pk:
            return redirect("account_change_password")
        before = Standing.of(person)
        with transaction.atomic():
            response = super().user_change_password(request, id, form_url)
            note_changes(acting_user=by, person=person, before=before, address=address_of(request))
        return response

    @admin.action(
        description=gettext_lazy("Remove the second factor (phone and codes lost)"),
        permissions=["change"],
    )
    def remove_second_factor(self, request: HttpRequest, people: QuerySet[User]) -> None:
        done = _("{person} sets up a second factor at the next sign-in.")
        self._for_each(request, people, remove_second_factor, done)

    @admin.action(
        description=gettext_lazy("End all sessions (a tablet or phone is lost)"),
        permissions=["change"],
    )
    def end_sessions(self, request: HttpRequest, people: QuerySet[User]) -> None:
        done = _("{person} is signed out everywhere.")
        self._for_each(request, people, end_sessions, done)

    def _for_each(
        self, request: HttpRequest, people: QuerySet[User], action: Callable[..., None], done: str
    ) -> None:
        for person in people:
            try:
                action(acting_user=signed_in(request), person=person, address=address_of(request))
            except NotAllowed as error:
                self.message_user(request, error.message, messages.ERROR)
            else:
                self.message_user(request, done.format(person=person))

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
    search_help_text = gettext_lazy("Name")

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
