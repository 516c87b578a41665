"""Who acts when nobody is signed in: commands that load data."""

from django.contrib.auth.models import Group

from blendshop.accounts.models import User
from blendshop.roles import Role

EMAIL = "system@blendshop.invalid"


def system_user() -> User:
    """A person who can never sign in and holds the role formulator; made when first needed."""
    user = User.objects.filter(email=EMAIL).first()
    if user is None:
        user = User.objects.create_user(EMAIL, name="Blendshop itself", is_active=False)
    user.groups.add(Group.objects.get_or_create(name=Role.FORMULATOR.value)[0])
    return user
