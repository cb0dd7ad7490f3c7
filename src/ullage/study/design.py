"""Which values each member of a study has: every combination, a sample, or the rows of a table."""

from __future__ import annotations

import functools
import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.study.axes import Listed, Row, Shares, Spread, names_of

Numbers = NDArray[np.int64]

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
        everyone = np.arange(self.members)
        if not any(key in keys for key in self.keys):
            return np.zeros(self.members, dtype=np.int64)
        if any(isinstance(axis, Spread) and axis.keys[0] in keys for axis in self.axes):
            return everyone
        if self.method in ("grid", "table"):
            picked = self._indices(everyone)
        else:
            shares = self._shares(everyone)
            chosen = [place for place, axis in enumerate(self.axes) if isinstance(axis, Listed)]
            picked = tuple(axis.indices(shares[:, place]) for place, axis in zip(chosen, self._listed, strict=True))
        found = np.zeros(self.members, dtype=np.int64)
        for axis, indices in zip(self._listed, picked, strict=True):
            codes = axis.codes(keys)
            found = found * (int(codes.max()) + 1) + codes[indices]
        return np.unique(found, return_inverse=True)[1]

    def _indices(self, numbers: Numbers) -> tuple[Numbers, ...]:
        """Return which row of each axis members have, in a grid or a table."""
        return np.unravel_index(numbers, [len(axis.rows) for axis in self._listed])

    @property
    def _listed(self) -> list[Listed]:
        return [axis for axis in self.axes if isinstance(axis, Listed)]

    def _shares(self, numbers: Numbers) -> Shares:
        if self.method == "random":
            return np.array([self._stream(number).random(len(self.axes)) for number in numbers.tolist()])
        first, end = int(numbers.min()), int(numbers.max()) + 1
        if self.method == "latin hypercube" or end - first > _AT_ONCE * len(numbers):
            return _sample(self.method, len(self.axes), self.seed, 0, self.members)[numbers]
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
