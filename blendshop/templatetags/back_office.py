"""Words of the back office's tables, for its templates."""

from typing import Any

from django import template

from blendshop.back_office_site import TableWords, words_of

register = template.Library()


@register.simple_tag
def table_words(opts: Any) -> TableWords | None:
    """The words of the table whose ``_meta`` it is; None on a page of no table."""
    return words_of(opts.label_lower) if opts else None
