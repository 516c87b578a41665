"""Questions about a line, and what stayed unclear in it, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from formulas.spoken_wish.meanings import Ask, Question, Unit
from formulas.spoken_wish.reading import Heard
from formulas.spoken_wish.vocabulary import NAMES

_SENTENCES: Final[Mapping[Ask, str | Promise]] = {
    Ask.HOW_MUCH: gettext_lazy("How much {about}?"),
    Ask.WHICH_MICROS: gettext_lazy("Which micronutrients, and how much of each?"),
    Ask.HOW_MANY: gettext_lazy("How many? Packages are whole; bulk is said in gallons."),
    Ask.PAIL_SIZE: gettext_lazy("How many gallons are in a pail?"),
    Ask.DECIMAL: gettext_lazy("Is the comma a decimal point?"),
    Ask.GRADE: gettext_lazy("Is this a grade?"),
    Ask.FRACTION: gettext_lazy("A part of what, or how many percent of {about}?"),
    Ask.ABOUT: gettext_lazy("At least or at most so much {about}?"),
    Ask.SLOW_SHARE: gettext_lazy("How much of the nitrogen is to be slow release?"),
    Ask.SLOW_N: gettext_lazy("Points of slow nitrogen, or a share of the nitrogen?"),
    Ask.RATE_OR_MASS: gettext_lazy("Of what, and is it to make or to spray?"),
    Ask.PRICE_PER: gettext_lazy("For a gallon or for a package?"),
    Ask.TWICE: gettext_lazy("This does not agree with what was said before it. Which holds?"),
}
_TRUCKLOAD: Final = gettext_lazy("How many gallons?")


def question_words(question: Question) -> str:
    """The question as it is asked back."""
    if question.ask is Ask.HOW_MANY and question.about in {"truckload", Unit.BULK}:
        return str(_TRUCKLOAD)
    about = NAMES.get(question.about, question.about)
    return str(_SENTENCES[question.ask]).format(about=about)


def open_words(heard: Heard) -> str:
    """All that stands in the way of one meaning; empty for a clear line."""
    sentences = []
    if heard.unclear:
        words = ", ".join(each.words for each in heard.unclear)
        sentences.append(_("Not understood: {words}.").format(words=words))
    for question in heard.questions:
        asked = _("“{words}”: {question}").format(
            words=question.words, question=question_words(question)
        )
        if question.choices:
            offered = " / ".join(choice.words for choice in question.choices)
            asked += " " + _("For example: {offered}.").format(offered=offered)
        sentences.append(asked)
    return " ".join(sentences)
