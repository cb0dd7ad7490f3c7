"""From an axis of a study file to its values: listed ones, levels of a range, or a share of a distribution."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from ullage.errors import quoted
from ullage.study.spec import MOST_LEVELS, Axis
from ullage.unit_list import NUMBER_AND_UNIT

Value = str | int | float | bool
Row = tuple[Value, ...]
Shares = NDArray[np.float64]

_DIGITS = 12  # of a drawn number: what is written is what is used
_WIDEST = 3.0  # standard deviations at which a normal or lognormal spread is cut
_HALF_WIDTH = 1.959963984540054  # standard deviations that hold 95 % to both sides


class RangeError(ValueError):
    """A range that cannot be used; the message says what is wanted."""


@dataclass(frozen=True)
class Listed:
    """Rows of values, one of each key."""

    keys: tuple[str, ...]
    rows: tuple[Row, ...]

    def at(self, indices: NDArray[np.int64]) -> list[Row]:
        """Return the rows with some indices."""
        return [self.rows[index] for index in indices.tolist()]

    def indices(self, shares: Shares) -> NDArray[np.int64]:
        """Return the indices of the rows for shares from 0 to 1; each row is equally likely."""
        return np.minimum((shares * len(self.rows)).astype(np.int64), len(self.rows) - 1)

    def drawn(self, shares: Shares) -> list[Row]:
        """Return the rows for shares from 0 to 1."""
        return self.at(self.indices(shares))

    def text_width(self, place: int) -> int:
        """Return the length of the longest text of a key."""
        return max(1, *(len(str(row[place]).encode()) for row in self.rows))

    def codes(self, keys: Collection[str]) -> NDArray[np.int64]:
        """Return a number for each row; rows with the same values of some keys have the same."""
        places = [place for place, key in enumerate(self.keys) if key in keys]
        known: dict[Row, int] = {}
        parts = (tuple(row[place] for place in places) for row in self.rows)
        return np.array([known.setdefault(part, len(known)) for part in parts])


@dataclass(frozen=True)
class Spread:
    """A range of one key and how its values spread over it; numbers are in the unit of the range.

    Parameters
    ----------
    keys : tuple of str
        The key.
    low, high : float
        Ends that hold all of a uniform or triangular spread, 95 % of a normal or lognormal one.
    unit : str
        Unit of the numbers; "" if they have none.
    whole : bool
        Whether only whole numbers count.
    distribution : str
        Name of the spread.
    """

    keys: tuple[str, ...]
    low: float
    high: float
    unit: str
    whole: bool
    distribution: str

    def drawn(self, shares: Shares) -> list[Row]:
        """Return the values for shares from 0 to 1 of the spread."""
        return [(self._written(number),) for number in self._numbers(shares).tolist()]

    def _numbers(self, shares: Shares) -> Shares:
        low, high = self.low, self.high
        if self.whole:
            return np.minimum(np.floor(low + shares * (high - low + 1.0)), high)
        if self.distribution in ("log uniform", "lognormal"):
            low, high = math.log(low), math.log(high)
        middle, half = 0.5 * (low + high), 0.5 * (high - low)
        if self.distribution in ("normal", "lognormal"):
            edge = ndtr(-_WIDEST)
            numbers = middle + half / _HALF_WIDTH * ndtri(edge + shares * (1.0 - 2.0 * edge))
        elif self.distribution == "triangular":
            side = np.sqrt(2.0 * np.minimum(shares, 1.0 - shares))
            numbers = middle + half * np.where(shares < 0.5, side - 1.0, 1.0 - side)
        else:
            numbers = low + shares * (high - low)
        return np.exp(numbers) if self.distribution in ("log uniform", "lognormal") else numbers

    def _written(self, number: float) -> Value:
        if self.whole:
            return int(number)
        text = f"{number:.{_DIGITS}g}"
        return f"{text} {self.unit}" if self.unit else text

    def text_width(self, _place: int) -> int:
        """Return a length that no text exceeds: sign, point, exponent, digits and unit."""
        return len(f"-.e-308 {self.unit}".encode()) + _DIGITS

    def extremes(self) -> list[Row]:
        """Return the lowest and the highest value that can be drawn."""
        return self.drawn(np.array([0.0, 1.0]))

    def levels(self, steps: int | None) -> Listed:
        """Return evenly spaced values with both ends, on a scale of ratios if the spread is; whole numbers one by one.

        Raises
        ------
        RangeError
            If the number of levels is needed and missing, or is too large.
        """
        if self.whole and steps is None and self.high - self.low >= MOST_LEVELS:
            raise RangeError(f"has more than {MOST_LEVELS} whole numbers: give `steps`, or a narrower range")
        if self.whole and steps is None:
            return Listed(self.keys, tuple((number,) for number in range(int(self.low), int(self.high) + 1)))
        if steps is None:
            raise RangeError("a range in a grid needs `steps`, how many levels it has")
        if self.distribution == "log uniform":
            numbers = np.geomspace(self.low, self.high, steps)
        else:
            numbers = np.linspace(self.low, self.high, steps)
        written = [self._written(number) for number in (np.rint(numbers) if self.whole else numbers).tolist()]
        return Listed(self.keys, tuple((value,) for value in dict.fromkeys(written)))


class _End(NamedTuple):
    number: float
    unit: str
    whole: bool


def spread_of(axis: Axis, whole_numbers: bool) -> Spread:
    """Read the range of an axis.

    Parameters
    ----------
    axis : Axis
        An axis with a range.
    whole_numbers : bool
        Whether its key takes whole numbers only.

    Returns
    -------
    Spread
        The range in the unit in which it is written.

    Raises
    ------
    RangeError
        If the ends are no numbers in one unit, or in the wrong order, or the spread needs positive ones.
    """
    low, high = (_end(value) for value in (axis.low, axis.high))
    if low.unit != high.unit:
        raise RangeError(f"{quoted(axis.low)} and {quoted(axis.high)} need one unit for both ends")
    if whole_numbers and not (low.whole and high.whole):
        raise RangeError("takes whole numbers only")
    if not low.number < high.number:
        raise RangeError(f"`low` is {quoted(axis.low)}, not below `high`, {quoted(axis.high)}")
    distribution = axis.distribution or "uniform"
    if distribution in ("log uniform", "lognormal") and low.number <= 0.0:
        raise RangeError(f"a {distribution} spread needs a `low` over zero, got {quoted(axis.low)}")
    if whole_numbers and distribution != "uniform":
        raise RangeError("whole numbers can only be uniform")
    return Spread(axis.names, low.number, high.number, low.unit, whole_numbers, distribution)


def _end(value: object) -> _End:
    if isinstance(value, str) and (match := NUMBER_AND_UNIT.fullmatch(value.strip())):
        return _End(float(match[1]), match[2], False)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise RangeError(f"a range needs a number with one unit at each end, got {quoted(value)}; else list `values`")
    return _End(float(value), "", isinstance(value, int))


def names_of(axes: Sequence[Listed | Spread]) -> tuple[str, ...]:
    """Return the keys that axes vary, in their order."""
    return tuple(key for axis in axes for key in axis.keys)
