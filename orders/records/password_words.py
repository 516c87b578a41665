"""Words that whoever knows the plant or the person would try in a password.

They are those of the plant's and the customer's name, of the person's own and of both mail
addresses, and the name of this program; a word of fewer letters than counts is in any sentence.
"""

from __future__ import annotations

import re
from typing import Final

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from blendshop.accounts.models import User
from orders.models import PlantProfile

_LEAST_LETTERS: Final = 4
_PROGRAM: Final = "blendshop"
#: Letters of any language, without the figures and signs between them.
_WORD: Final = re.compile(r"[^\W\d_]+")
#: What is left of a password without these words has to be a password by itself.
_LEAST_LEFT: Final = 12


class KnownWordsValidator:
    """Such words may be in a password that is long enough without them."""

    def validate(self, password: str, user: User | None = None) -> None:
        left, found = password.casefold(), []
        for word in sorted(known_words(user), key=len, reverse=True):
            if word in left:
                found.append(word)
                left = left.replace(word, "")
        if found and len(left) < _LEAST_LEFT:
            told = _("Others know the words {words} of you or the plant: take different ones.")
            raise ValidationError(told.format(words=", ".join(found)), code="password_known_words")

    def get_help_text(self) -> str:
        return _("Your password can't be made of the names of the plant, your company or yourself.")


def known_words(person: User | None) -> set[str]:
    """In small letters, each long enough to count."""
    plant = PlantProfile.stored()
    texts = [_PROGRAM]
    if plant is not None:
        texts += [plant.name, plant.email]
    if person is not None:
        texts += [person.name, person.email, person.company.name if person.company else ""]
    words = {word.casefold() for text in texts for word in _WORD.findall(text)}
    return {word for word in words if len(word) >= _LEAST_LETTERS}
