"""Limits of a question in words: short names for what an answer carries by identity."""

from formulas.engine.wishes import Side, WishId, WishKind
from formulas.wording.limits import limit_words, limits_words


def said(problem, wishes):
    """A tuple of identities in words."""
    return limits_words(problem, wishes)


def reach_by_words(problem, answer):
    """``{"N at least 28": Reach}``."""
    return {limit_words(problem, entry.wish): entry for entry in answer.reach}


def moves_by_words(problem, alternative):
    """``{"N at least 28": 24.9}``."""
    return {limit_words(problem, move.wish): move.to for move in alternative.relaxed}


def least(key, index=0):
    return WishId(WishKind.NUTRIENT, Side.LEAST, key, index)
