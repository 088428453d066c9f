"""Patterns of at most four pieces, each joined of two pairs: quick on a long stick in fine units.

For searches that prove nothing: patterns of more pieces are overlooked. No size is rounded, so that each pattern fits.
All pairs of sizes are put in order of their fill once, whatever the sizes are worth; then the best that goes beside a
pair is the best of those up to the room that it leaves (Horowitz and Sahni, J. ACM 21 (1974) 277-292: two lists).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.patterns import Counts
from cutplan.cutting.pricing.knapsack import TableParams
from cutplan.sums import Ints

MOST_SIZES = 1_000  # of which all pairs are listed
JOINED_PIECES = 4  # in a pattern


def quick_for(sizes: Sequence[int], capacities: Sequence[int]) -> bool:
    """Whether it is quicker than tables, and most patterns are such: many sizes, long for a stick in fine units."""
    longest = max(capacities, default=0)
    return (longest > TableParams.dense and len(sizes) <= MOST_SIZES
            and len(set(capacities)) == 1 and JOINED_PIECES * sum(sizes) > len(sizes) * longest)


@dataclass(frozen=True)
class FittingPairs:
    """What fills a stick with no more than two pieces, by rising fill.

    members: (2, pairs): which sizes; their number where there is none
    beside:  for each the last that fits beside it
    """

    members: Ints
    beside: Ints


@lru_cache(maxsize=8)
def pairs_within(sizes: tuple[int, ...], twice: tuple[bool, ...], capacity: int) -> FittingPairs:
    """All pairs; one of a size with itself only where it may be taken `twice`."""
    length = np.array([*sizes, 0], dtype=np.int64)
    first, second = np.triu_indices(len(length))
    fill = length[first] + length[second]
    kept = np.flatnonzero((fill <= capacity) & ((first != second) | np.array([*twice, True])[first]))
    kept = kept[np.argsort(fill[kept], kind="stable")]
    fill = fill[kept]
    return FittingPairs(np.stack([first[kept], second[kept]]), np.searchsorted(fill, capacity - fill, side="right") - 1)


@dataclass(frozen=True)
class Joined:
    """Patterns that fill at most `capacity`, of sizes `index` that have a value."""

    index: tuple[int, ...]
    bounds: Ints
    values: Ints
    pairs: FittingPairs

    def best(self) -> int:
        """What the best pattern found is worth: no bound."""
        return int(self._worth.max())

    def may_beat(self, value: float) -> bool:
        return self.best() > value

    @cached_property
    def _alone(self) -> Ints:
        """What each pair is worth."""
        found: Ints = np.append(self.values, 0)[self.pairs.members].sum(axis=0)
        return found

    @cached_property
    def _worth(self) -> Ints:
        """What each pair is worth with the best that goes beside it."""
        found: Ints = self._alone + np.maximum.accumulate(self._alone)[self.pairs.beside]
        return found

    def patterns(self, above: float, many: int) -> list[Counts]:
        """For each size the pattern worth most that has it, where that is worth more than `above`; best first."""
        hopeful = np.flatnonzero(self._worth > above)
        hopeful = hopeful[np.argsort(-self._worth[hopeful], kind="stable")]
        four = self._joined(hopeful)
        four = four[:, self._allowed(four)]
        _, at = np.unique(four.T, return_index=True)  # where each size is seen first
        chosen = np.unique(at // JOINED_PIECES)
        return list(dict.fromkeys(map(self._counts, four[:, chosen].T.tolist())))

    def _joined(self, chosen: Ints) -> Ints:
        """The pieces of these pairs and of the best beside them: (4, chosen)."""
        alone = self._alone
        rises = np.concatenate([[True], alone[1:] > np.maximum.accumulate(alone)[:-1]])
        best = np.maximum.accumulate(np.where(rises, np.arange(len(alone)), 0))
        members = self.pairs.members
        return np.concatenate([members[:, chosen], members[:, best[self.pairs.beside[chosen]]]])

    def _allowed(self, four: Ints) -> NDArray[np.bool_]:
        """Which patterns take no size oftener than they may."""
        often = (four[:, None] == four).sum(axis=0)
        allowed: NDArray[np.bool_] = (often <= np.append(self.bounds, JOINED_PIECES)[four]).all(axis=0)
        return allowed

    def _counts(self, four: Sequence[int]) -> Counts:
        return tuple(sorted(Counter(self.index[k] for k in four if k < len(self.index)).items()))

    def above(self, least: int, most: int) -> None:
        """None: there may be more."""


def joined(sizes: Sequence[int], bounds: Sequence[int], values: Sequence[int], capacity: int) -> Joined:
    """The patterns of these sizes, each at most as often as its bound, of those that have a value."""
    index = tuple(i for i, value in enumerate(values) if value > 0 and bounds[i] > 0 and sizes[i] <= capacity)
    pairs = pairs_within(tuple(sizes[i] for i in index), tuple(bounds[i] > 1 for i in index), capacity)
    return Joined(index, np.array([bounds[i] for i in index], dtype=np.int64),
                  np.array([values[i] for i in index], dtype=np.int64), pairs)
