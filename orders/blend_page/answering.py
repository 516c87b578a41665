"""The answer of the page: the wish without traces, and within the price that was asked for."""

from __future__ import annotations

from formulas.answers.answer import OutOfReachAnswer
from formulas.contracts.formulation import Formulation, formulate
from orders.blend_page.page_wish import PageWish
from orders.blend_page.price_wish import Answered, price_wish_of, within_price
from orders.blend_page.prices import Pricer
from orders.blend_page.traces import usual_smallest_charge, without_traces
from orders.blend_page.wish_form import WishForm

_SMALLEST_CHARGE = "smallest_charge_pct"


def answered(form: WishForm, asked: PageWish) -> Answered:
    """BadInput, TooLargeToDecide and the like as of ``formulate``.

    Nobody asked for the usual smallest charge: it never makes a wish out of reach.
    """
    pricer = Pricer(form)
    smallest = usual_smallest_charge(form)
    if smallest is not None:
        found = _within_price(form, without_traces(asked, smallest), pricer)
        answer = found.formulation.answer
        if not isinstance(answer, OutOfReachAnswer):
            return found
        # What is not explained may be in the way of nothing but the search.
        is_in_the_way = _SMALLEST_CHARGE in answer.out_of_reach.conflict_fields
        if not is_in_the_way and not answer.out_of_reach.not_explained:
            return found
    return _within_price(form, asked, pricer)


def _within_price(form: WishForm, asked: PageWish, pricer: Pricer) -> Answered:
    def ask(wish: PageWish) -> Formulation:
        return formulate(wish.wish.contract_json(), catalogue=form.options.catalogue)

    is_only_evaluated = bool(asked.wish.recipe) and not asked.wish.asks_beside_recipe
    wish = None if is_only_evaluated else price_wish_of(form, pricer)
    if wish is None:
        return Answered(asked, ask(asked))
    return within_price(asked, wish, pricer, ask)
