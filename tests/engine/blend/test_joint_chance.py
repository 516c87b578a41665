"""The chance of any miss, against scipy's multivariate normal distribution and plain draws."""

import numpy as np
import pytest
from scipy.stats import chi, multivariate_normal, norm

from formulas.engine.blend.joint_chance import (
    _chi_tail,
    chance_of_any,
    standard_deviations_for,
)


def scattered(count, causes, seed):
    """A covariance of so many guarantees by so many causes, percentage points squared."""
    loading = np.random.default_rng(seed).normal(size=(count, causes)) * 0.1
    return loading @ loading.T


@pytest.mark.parametrize(("count", "causes"), [(2, 2), (3, 5), (5, 7), (6, 8), (8, 9)])
@pytest.mark.parametrize("spare", [1.0, 2.0, 3.0])
def test_it_is_one_less_the_chance_that_all_hold(count, causes, spare):
    """scipy.stats.multivariate_normal.cdf (A. Genz 1992) is the outside check."""
    covariance = scattered(count, causes, seed=count)
    points = spare * np.sqrt(np.diag(covariance)) * np.linspace(0.8, 1.2, count)
    held = multivariate_normal(cov=covariance, maxpts=1_000_000, abseps=1e-8).cdf(points)
    assert chance_of_any(points, covariance) == pytest.approx(1 - held, rel=0.04, abs=2e-5)


def test_guarantees_that_scatter_as_one_are_one():
    one = np.array([[0.04]])
    same = np.full((3, 3), 0.04)
    assert chance_of_any(np.full(3, 0.4), same) == pytest.approx(norm.cdf(-2), rel=1e-4)
    assert standard_deviations_for(0.01, same) == pytest.approx(-norm.ppf(0.01), abs=1e-4)
    assert chance_of_any(np.array([0.4]), one) == pytest.approx(norm.cdf(-2), rel=1e-4)


def test_more_guarantees_than_causes_are_drawn_alike():
    loading = np.random.default_rng(5).normal(size=(4, 3)) * 0.1
    spare = 2.5 * np.linalg.norm(loading, axis=1)
    draws = np.random.default_rng(6).standard_normal((400_000, 3)) @ loading.T
    counted = float((draws < -spare).any(axis=1).mean())
    assert chance_of_any(spare, loading @ loading.T) == pytest.approx(counted, rel=0.04)


def test_a_guarantee_that_is_expected_to_be_missed_counts():
    covariance = np.diag([1.0, 1.0])
    spare = np.array([-1.0, 1.0])
    expected = 1 - (1 - norm.cdf(1)) * norm.cdf(1)
    assert chance_of_any(spare, covariance) == pytest.approx(expected, rel=0.01)


def test_without_scatter_a_guarantee_is_kept_or_missed():
    assert chance_of_any(np.array([0.0, 0.2]), np.zeros((2, 2))) == 0.0
    assert chance_of_any(np.array([-0.1, 0.2]), np.zeros((2, 2))) == 1.0
    mixed = np.diag([0.0, 0.01])
    assert chance_of_any(np.array([0.0, 0.1]), mixed) == pytest.approx(norm.cdf(-1), rel=1e-4)


@pytest.mark.parametrize("chance", [0.5, 0.05, 0.001])
@pytest.mark.parametrize(("count", "causes"), [(1, 1), (3, 5), (6, 8)])
def test_with_what_it_needs_to_spare_the_chance_is_the_one_asked(count, causes, chance):
    covariance = scattered(count, causes, seed=3)
    z = standard_deviations_for(chance, covariance)
    spare = z * np.sqrt(np.diag(covariance))
    assert chance_of_any(spare, covariance) == pytest.approx(chance, rel=1e-3)
    assert z >= -norm.ppf(chance) - 1e-9


@pytest.mark.parametrize("degrees", range(1, 13))
def test_the_tail_of_a_radius_is_that_of_the_chi_distribution(degrees):
    """scipy.stats.chi.sf is the outside check."""
    x = np.linspace(0.0, 12.0, 50)
    assert _chi_tail(x, degrees) == pytest.approx(chi(degrees).sf(x), rel=3e-5)
