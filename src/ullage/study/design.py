"""Which values each member of a study has: every combination, a sample, or the rows of a table."""

from __future__ import annotations

import functools
import math
import threading
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.study.axes import Listed, Row, Shares, Spread, names_of

Numbers = NDArray[np.int64]

_BLOCK = 100_000  # members whose sample is held at once, where only a part of it is wanted
_MOST_CODES = 2**62
_DRAWING = threading.Lock()
_AT_ONCE = 16  # a stretch of a sequence is drawn if it holds a member in so many at least


@dataclass(frozen=True)
class Design:
    """Members of a study and how each gets its values.

    Parameters
    ----------
    axes : tuple of Listed or Spread
        What is varied; of a grid or a table all are listed.
    method : str
        "grid", "random", "latin hypercube", "sobol" or "table": the rows of one axis.
    members : int
        How many.
    seed : int
        Seed of a sample.
    """

    axes: tuple[Listed | Spread, ...]
    method: str
    members: int
    seed: int

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys that vary, in the order of their values."""
        return names_of(self.axes)

    def values(self, numbers: Numbers) -> list[Row]:
        """Return the values of some members.

        Parameters
        ----------
        numbers : array of int
            Numbers of members, from 0.

        Returns
        -------
        list of tuple
            Values as a scenario file writes them, in the order of `keys`. They hang on the member's number and the
            seed alone, not on which others are asked for.
        """
        if self.method in ("grid", "table"):
            columns = [axis.at(indices) for axis, indices in zip(self._listed, self._indices(numbers), strict=True)]
        else:
            shares = self._shares(numbers)
            columns = [axis.drawn(shares[:, place]) for place, axis in enumerate(self.axes)]
        return [tuple(value for row in rows for value in row) for rows in zip(*columns, strict=True)]

    def codes(self, keys: Collection[str]) -> Numbers:
        """Return a number for each member; members with the same values of some keys have the same.

        Parameters
        ----------
        keys : collection of str
            Keys that vary. Along a range no two members have the same value.

        Returns
        -------
        array of int
            Numbers from 0, one a member.
        """
        if not any(key in keys for key in self.keys):
            return np.zeros(self.members, dtype=np.int64)
        coded = {at: axis.codes(keys) for at, axis in enumerate(self._listed) if {*keys} & {*axis.keys}}
        together = math.prod(int(codes.max()) + 1 for codes in coded.values())
        ranged = any(isinstance(axis, Spread) and axis.keys[0] in keys for axis in self.axes)
        if ranged or together > _MOST_CODES:
            return np.arange(self.members)
        found = np.zeros(self.members, dtype=np.int64)
        for first in range(0, self.members, _BLOCK):
            block = np.arange(first, min(first + _BLOCK, self.members))
            indices = self._indices(block)
            for at, codes in coded.items():
                found[block] = found[block] * (int(codes.max()) + 1) + codes[indices[at]]
        return np.asarray(np.unique(found, return_inverse=True)[1])

    def _indices(self, numbers: Numbers) -> Sequence[Numbers]:
        """Return which row of each listed axis members have."""
        if self.method in ("grid", "table"):
            return np.unravel_index(numbers, [len(axis.rows) for axis in self._listed])
        shares = self._shares(numbers)
        return [axis.indices(shares[:, at]) for at, axis in enumerate(self.axes) if isinstance(axis, Listed)]

    @property
    def _listed(self) -> list[Listed]:
        return [axis for axis in self.axes if isinstance(axis, Listed)]

    def _shares(self, numbers: Numbers) -> Shares:
        if self.method == "random":
            return np.array([self._stream(number).random(len(self.axes)) for number in numbers.tolist()])
        first, end = int(numbers.min()), int(numbers.max()) + 1
        if self.method == "latin hypercube" or end - first > _AT_ONCE * len(numbers):
            first, end = 0, self.members
        with _DRAWING:  # one thread draws what the others wait for
            return _sample(self.method, len(self.axes), self.seed, first, end)[numbers - first]

    def _stream(self, member: int) -> np.random.Generator:
        return np.random.default_rng(np.random.SeedSequence(self.seed, spawn_key=(member,)))


@functools.lru_cache(maxsize=2)
def _sample(method: str, dimensions: int, seed: int, first: int, end: int) -> Shares:
    """Return members `first` to `end` of a sample, shares from 0 to 1; those of a hypercube are all of it."""
    from scipy.stats import qmc  # loads in half a second: only when something is drawn

    rng = np.random.default_rng(np.random.SeedSequence(seed))
    if method == "latin hypercube":
        return qmc.LatinHypercube(dimensions, rng=rng).random(end)
    engine = qmc.Sobol(dimensions, rng=rng)
    begun = engine.random(1)  # a sequence that goes on is not remarked upon; how many are even is said by `check`
    if first == 0:
        return np.concatenate([begun, engine.random(end - 1)])
    engine.fast_forward(first - 1)
    return engine.random(end - first)


def grid_of(axes: tuple[Listed, ...]) -> Design:
    """Return the design of every combination; the last axis goes round fastest."""
    return Design(axes, "grid", math.prod(len(axis.rows) for axis in axes), 0)
