"""People and the customer companies they belong to.

They stand below formulas and orders because both point at them: a saved blend belongs to a
company, every action names its acting user.
"""

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from simple_history.models import HistoricalRecords

from blendshop.immutable import WrittenOnceModel
from blendshop.languages.offered import Language, UnitSystem
from blendshop.roles import STAFF, Role, has_role


class CompanyQuerySet(models.QuerySet["Company"]):
    def visible_to(self, user: "User") -> "CompanyQuerySet":
        """Reps, office and formulators see every company; a customer sees its own."""
        if has_role(user, Role.REP, Role.OFFICE, Role.FORMULATOR):
            return self
        return self.filter(pk=user.company_id) if user.company_id else self.none()


class Company(models.Model):
    """A customer company: a lawn-care operator with one or more people."""

    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    notes = models.TextField(blank=True, help_text="For staff; the customer does not see this.")
    active = models.BooleanField(default=True)
    sees_recipe = models.BooleanField(
        "sees recipes",
        default=False,
        help_text="Its people read stocks with their shares; otherwise analysis and sources only.",
    )
    #: Blank: the house's.
    language = models.CharField(max_length=2, blank=True, choices=Language.choices)
    units = models.CharField(max_length=6, blank=True, choices=UnitSystem.choices)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = CompanyQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        verbose_name_plural = "companies"
        ordering = ("name", "pk")
        indexes: ClassVar = [models.Index(fields=["name", "id"], name="company_by_name")]
        constraints: ClassVar = [
            models.UniqueConstraint(
                Lower("name"),
                name="company_name_is_unique",
                violation_error_message="A company of this name already exists.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **extra: Any) -> "User":
        if not email:
            raise ValueError("A person needs an email address.")
        user = self.model(email=self.normalize_email(email).lower(), **extra)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **extra: Any) -> "User":
        return self.create_user(email, password, is_staff=True, is_superuser=True, **extra)


class User(AbstractUser):
    """A person. Signs in by email; holds roles through groups; may belong to one company."""

    # Django's way to leave out an inherited column; its stubs know the columns only.
    username = None  # type: ignore[assignment] # see above
    first_name = None  # type: ignore[assignment] # see above
    last_name = None  # type: ignore[assignment] # see above
    email = models.EmailField("email address", unique=True)
    name = models.CharField(max_length=120)
    phone = models.CharField(
        max_length=40, blank=True, help_text="Stands on the quotes this person writes."
    )
    company = models.ForeignKey(
        Company, null=True, blank=True, on_delete=models.PROTECT, related_name="people"
    )
    may_order = models.BooleanField(
        default=True,
        help_text="Of a customer's person: may order for the company; otherwise may only look.",
    )
    is_owner = models.BooleanField(
        default=False,
        help_text="Of a customer's person: invites colleagues and says what they may do.",
    )
    #: What a customer's person is mailed; what it must know is mailed whatever stands here.
    mailed_quotes = models.BooleanField("new quotes", default=True)
    mailed_orders = models.BooleanField("orders asked for and confirmed", default=True)
    mailed_shipping = models.BooleanField("orders on their way", default=True)
    #: Blank: the company's.
    language = models.CharField(max_length=2, blank=True, choices=Language.choices)
    units = models.CharField(max_length=6, blank=True, choices=UnitSystem.choices)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]
    objects: ClassVar[UserManager] = UserManager()  # type: ignore[assignment] # not of Django's own

    class Meta:
        ordering = ("name", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                Lower("email"),
                name="user_email_is_unique_in_any_case",
                violation_error_message="A person with this email address already exists.",
            )
        ]

    def __str__(self) -> str:
        return self.name or self.email

    @property
    def sees_recipe(self) -> bool:
        """Whether stocks with their shares are this person's to read: staff's, and a customer's
        where the plant has said so of its company."""
        if has_role(self, *STAFF):
            return True
        return self.company is not None and self.company.sees_recipe

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name.split(" ")[0] if self.name else self.email


class SecurityEvent(WrittenOnceModel):
    """One line of the security log: when, who, to whom, what, from which address.

    ``who`` acted and is empty where nobody was signed in; ``whom`` it concerns. Their names stand
    beside them as they were that day.
    """

    class Kind(models.TextChoices):
        SIGNED_IN = "signed_in", _("Signed in")
        SIGN_IN_FAILED = "sign_in_failed", _("Sign-in failed")
        LOCKED_OUT = "locked_out", _("Locked out for a while")
        FACTOR_FAILED = "factor_failed", _("Second factor failed")
        FACTOR_ADDED = "factor_added", _("Second factor added")
        FACTOR_REMOVED = "factor_removed", _("Second factor removed")
        CODES_RENEWED = "codes_renewed", _("New recovery codes")
        SESSION_ENDED = "session_ended", _("Session ended")
        PASSWORD_SET = "password_set", _("Password set")
        PERSON_ADDED = "person_added", _("Person added")
        ROLES_CHANGED = "roles_changed", _("Roles changed")
        ACCESS_CHANGED = "access_changed", _("Sign-in or access changed")
        TOKEN_ISSUED = "token_issued", _("API token issued")
        TOKEN_REVOKED = "token_revoked", _("API token revoked")

    at = models.DateTimeField(default=timezone.now, db_index=True)
    kind = models.CharField(max_length=20, choices=Kind.choices)
    who = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="security_acts"
    )
    who_name = models.CharField(max_length=254, blank=True)
    whom = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="security_events"
    )
    whom_name = models.CharField(max_length=254, blank=True)
    what = models.CharField(max_length=400, blank=True)
    address = models.GenericIPAddressField(null=True, blank=True)

    #: What the office, or a person of it, decided about somebody's roles and access.
    OF_ROLES: ClassVar = ("person_added", "roles_changed", "access_changed", "token_issued")

    class Meta:
        ordering = ("-at", "-pk")
        # Few lines among very many of people who signed in.
        indexes: ClassVar = [
            models.Index(
                fields=["at", "id"],
                condition=models.Q(
                    kind__in=["person_added", "roles_changed", "access_changed", "token_issued"]
                ),
                name="security_event_of_roles",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.whom_name}".strip()
