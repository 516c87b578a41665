"""The cheapest order of things where what comes after what has a price that is not symmetric.

Data: ``cost[i, j]`` of j straight after i, ``start[j]`` of beginning with j. Wanted: the order p
of all n that is least in ``start[p1] + sum cost[p_k, p_k+1]``, a shortest Hamiltonian path.

Exact by Held and Karp's recursion over subsets S and last members j (Held and Karp, A dynamic
programming approach to sequencing problems, J. SIAM 10(1), 1962)::

    best[S, j] = min over i in S without j of  best[S - j, i] + cost[i, j]

In words: the best way to have done the set S ending with j is the best way to have done the rest
ending with some i, then j. Above ``MOST_EXACT``: the nearest neighbour from every beginning, the
cheapest ones improved by turning stretches round (2-opt) and by moving stretches of up to three
(Or-opt) until nothing helps. Over 100 random plants of nine batches it needed the exact number
of flushes in all but at most two, which a test holds it to.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Final

import numpy as np

from formulas.engine.blend.programs import Floats
from formulas.engine.problem import BadProblem, FieldError

MOST_EXACT: Final = 12
_NOISE: Final = 1e-9
#: Nearest-neighbour orders that are improved, cheapest first; more cost time and gain little.
_BEGINNINGS: Final = 10
#: Stretches of at most so many are moved (Or, 1976, as described by Johnson and McGeoch).
_LONGEST_MOVED: Final = 3


@dataclass(frozen=True, slots=True)
class Ordering:
    """Positions in the best order found; ``is_exact``: no order is cheaper."""

    order: tuple[int, ...]
    cost: float
    is_exact: bool


def ordering(cost: Floats, start: Floats) -> Ordering:
    """The cheapest order; the given one where none is cheaper.

    ``cost`` has the shape (n, n), ``start`` (n,). Raises ``BadProblem`` for other shapes or
    numbers that are not finite.

    >>> ordering(np.array([[0.0, 9.0], [1.0, 0.0]]), np.zeros(2)).order
    (1, 0)
    """
    n = len(start)
    if cost.shape != (n, n) or not (np.isfinite(cost).all() and np.isfinite(start).all()):
        raise BadProblem((FieldError("cost", "One finite number for each pair is needed."),))
    if n <= 1:
        return Ordering(tuple(range(n)), float(start.sum()), is_exact=True)
    given, least = tuple(range(n)), _least(cost, start)
    if path_cost(given, cost, start) <= least + _NOISE:
        return Ordering(given, path_cost(given, cost, start), is_exact=True)
    best = exact_order(cost, start) if n <= MOST_EXACT else heuristic_order(cost, start)
    is_exact = n <= MOST_EXACT or path_cost(best, cost, start) <= least + _NOISE
    if path_cost(given, cost, start) <= path_cost(best, cost, start) + _NOISE:
        best = given
    return Ordering(best, path_cost(best, cost, start), is_exact)


def _least(cost: Floats, start: Floats) -> float:
    """No order costs less: each is reached at its cheapest, from another or as the first."""
    from_others = cost + np.diag(np.full(len(start), np.inf))
    return float(np.minimum(from_others.min(axis=0), start).sum())


def path_cost(order: Sequence[int], cost: Floats, start: Floats) -> float:
    """What an order costs."""
    steps = np.asarray(order, dtype=np.intp)
    return float(start[steps[0]] + cost[steps[:-1], steps[1:]].sum())


def exact_order(cost: Floats, start: Floats) -> tuple[int, ...]:
    """The cheapest order of all; the work grows as 2^n n^2."""
    n = len(start)
    best = np.full((1 << n, n), np.inf)
    came_from = np.zeros((1 << n, n), dtype=np.intp)
    for j in range(n):
        best[1 << j, j] = start[j]
    for done in range(1, 1 << n):
        rest = [j for j in range(n) if not done >> j & 1]
        if not rest:
            continue
        through = best[done][:, None] + cost[:, rest]
        last = through.argmin(axis=0)
        for column, j in enumerate(rest):
            best[done | 1 << j, j] = through[last[column], column]
            came_from[done | 1 << j, j] = last[column]
    done, j = (1 << n) - 1, int(best[-1].argmin())
    backwards = [j]
    for _ in range(n - 1):
        done, j = done & ~(1 << j), int(came_from[done, j])
        backwards.append(j)
    return tuple(reversed(backwards))


def heuristic_order(cost: Floats, start: Floats) -> tuple[int, ...]:
    """A good order for any number: the best of the improved nearest-neighbour orders."""
    least = _least(cost, start)
    begun = sorted(
        (_nearest_neighbours(first, cost) for first in range(len(start))),
        key=lambda order: path_cost(order, cost, start),
    )
    found = []
    for order in begun[:_BEGINNINGS]:
        found.append(_improved(order, cost, start))
        if path_cost(found[-1], cost, start) <= least + _NOISE:
            return found[-1]  # nothing can be cheaper
    return min(found, key=lambda order: path_cost(order, cost, start))


def _nearest_neighbours(first: int, cost: Floats) -> tuple[int, ...]:
    order = [first]
    left = [j for j in range(len(cost)) if j != first]
    while left:
        last = order[-1]
        nearest = min(left, key=lambda j: (cost[last, j], j))
        order.append(nearest)
        left.remove(nearest)
    return tuple(order)


def _improved(order: tuple[int, ...], cost: Floats, start: Floats) -> tuple[int, ...]:
    """First improvement, again and again, until no neighbour is cheaper."""
    # A step further for what stands before the first and after the last: nothing to pay there
    # but the price of beginning. Plain lists: at these lengths an array costs more than it saves.
    n = len(start)
    step = [[*row, 0.0] for row in cost.tolist()] + [[*start.tolist(), 0.0]]
    while True:
        path = (*order, n)  # n stands for the end, and as path[-1] for the beginning
        better = next(_cheaper(path, step), None)
        if better is None:
            return order
        order = better


def _cheaper(path: tuple[int, ...], step: list[list[float]]) -> Iterator[tuple[int, ...]]:
    """Neighbours that are cheaper; each is weighed by the few steps in which it differs."""
    order, n = path[:-1], len(path) - 1
    for length in range(1, _LONGEST_MOVED + 1):
        for i in range(n - length + 1):
            first, last, before, after = (
                path[i],
                path[i + length - 1],
                path[i - 1],
                path[i + length],
            )
            moved, rest = order[i : i + length], order[:i] + order[i + length :]
            closed = step[before][after] - step[before][first] - step[last][after]
            ends = (*rest, n)
            for j in range(len(rest) + 1):
                left, right = ends[j - 1], ends[j]
                opened = step[left][first] + step[last][right] - step[left][right]
                if j != i and closed + opened < -_NOISE:
                    yield rest[:j] + moved + rest[j:]
    there = [0.0, *accumulate(step[a][b] for a, b in pairwise(order))]
    back = [0.0, *accumulate(step[b][a] for a, b in pairwise(order))]
    for i in range(n - 1):
        for j in range(i + 2, n + 1):
            first, last, before, after = path[i], path[j - 1], path[i - 1], path[j]
            turned = step[before][last] + step[first][after] + back[j - 1] - back[i]
            as_it_is = step[before][first] + step[last][after] + there[j - 1] - there[i]
            if turned - as_it_is < -_NOISE:
                yield order[:i] + order[i:j][::-1] + order[j:]
