"""A formulator's word on a revision: who, when, a note; another word takes it back."""

import pytest
from django.urls import reverse

from blendshop.errors import BadInput, IllegalMove, NotAllowed
from blendshop.immutable import WrittenOnce
from formulas.blends.actions import review_recipe, take_back_review
from formulas.blends.reviews import is_reviewed
from formulas.models import RecipeReview
from tests.orders.planning.plant_cases import make_shop, save_half_slow


@pytest.fixture
def revision(db, rep, company):
    make_shop()
    return save_half_slow(rep, company)


def test_reviewed_once_taken_back_with_a_reason_and_reviewed_again(revision, formulator, rep):
    with pytest.raises(NotAllowed):
        review_recipe(acting_user=rep, revision=revision)
    first = review_recipe(acting_user=formulator, revision=revision, note="Fine.")
    assert review_recipe(acting_user=formulator, revision=revision, note="Again.") == first
    assert is_reviewed(revision)
    with pytest.raises(WrittenOnce):
        first.save()
    with pytest.raises(BadInput):
        take_back_review(acting_user=formulator, revision=revision, note="")
    take_back_review(acting_user=formulator, revision=revision, note="Salted out in a jar.")
    assert not is_reviewed(revision)
    with pytest.raises(IllegalMove):
        take_back_review(acting_user=formulator, revision=revision, note="Twice.")
    review_recipe(acting_user=formulator, revision=revision)
    assert [word.stands for word in RecipeReview.objects.order_by("pk")] == [True, False, True]


def test_the_page_of_the_blend_reviews_the_revision_that_is_shown(
    revision, formulator, rep, customer, signed_in
):
    page = reverse("blend_detail", args=[revision.blend_id])
    assert "Not reviewed by a formulator" in signed_in(customer).get(page).content.decode()
    client, act = signed_in(formulator), reverse("blend_review", args=[revision.blend_id])
    assert client.post(act, {"do": "review", "revision": 9}).status_code == 404
    client.post(act, {"do": "review", "revision": 1, "note": "Keep below 0.9 lb N."})
    assert "Keep below 0.9 lb N." in signed_in(rep).get(page).content.decode()
    own = signed_in(customer).get(page).content.decode()
    assert "by Fran Form" in own
    assert "Keep below" not in own, "the note is the plant's own"
