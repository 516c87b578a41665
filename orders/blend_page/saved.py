"""What was saved, as the fields that ask it again."""

from __future__ import annotations

from django.http import QueryDict

from formulas.answers.wish import Wish
from orders.blend_page.page_options import PageOptions
from orders.blend_page.typed_again import fields_of


def typed_again(wish: Wish, company_id: int | None, options: PageOptions) -> QueryDict:
    """The fields that ask a saved wish again, for the same customer."""
    data = QueryDict(mutable=True)
    for name, values in fields_of(wish, options.packages, options.default_package).items():
        data.setlist(name, values)
    if company_id:
        data["company"] = str(company_id)
    return data
