"""A new version of a safety data sheet."""

import hashlib
from datetime import date
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from blendshop.errors import BadInput
from blendshop.roles import Role, require_role
from formulas.models import BaseStock, Blend
from orders.models import SafetySheet

UPLOADERS: Final = (Role.FORMULATOR, Role.OFFICE)


def put_in_sheet(
    *, acting_user: User, of: BaseStock | Blend, pdf: bytes, revised_on: date
) -> SafetySheet:
    """The next version; BadInput for the file that is there already and for a day to come."""
    require_role(acting_user, *UPLOADERS)
    if revised_on > timezone.localdate():
        message = _("The sheet cannot be of a day to come.")
        raise BadInput(message, fields={"revised_on": message})
    digest = hashlib.sha256(pdf).hexdigest()
    what = {"stock": of} if isinstance(of, BaseStock) else {"blend": of}
    with transaction.atomic():
        type(of)._default_manager.select_for_update().get(pk=of.pk)  # versions are counted here
        last = SafetySheet.objects.filter(**what).order_by("-version").first()
        if last is not None and last.sha256 == digest:
            message = _("This file is there already, as version {number}.").format(
                number=last.version
            )
            raise BadInput(message, fields={"file": message})
        sheet: SafetySheet = SafetySheet.objects.create(
            **what,
            version=last.version + 1 if last else 1,
            revised_on=revised_on,
            pdf=pdf,
            sha256=digest,
            uploaded_by=acting_user,
        )
    return sheet
