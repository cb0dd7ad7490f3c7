"""The grid of a study: its axes in shown units, and any figure laid out over two of them."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.results.display import System
from ullage.results.study_axes import (
    GRID,
    Axis,
    axes_of,
    base_value,
    in_shown_unit,
    key_words,
    sampling_of,
    shown_values,
    value_text,
)
from ullage.units import digits

Floats = NDArray[np.float64]


class GridAxis(NamedTuple):
    """One axis of a grid.

    `values` are in the shown unit, in order; of text and of keys that change together they are row numbers, and `rows`
    names them. `members` is the place of each member on the axis. `base` is the value of the scenario itself; NaN if
    unknown.
    """

    axis: Axis
    name: str
    unit: str
    values: Floats
    rows: tuple[str, ...]
    members: NDArray[np.int64]
    base: float

    def text(self, place: int) -> str:
        """Write the value at a place."""
        if self.rows:
            return self.rows[place]
        space = "" if self.unit in ("", "%") else " "
        return f"{digits(float(self.values[place]), 3)}{space}{self.unit}".replace("%", " %")


def grid_axes(data: xr.Dataset, units: System) -> list[GridAxis]:
    """Return the axes of a grid study, those with most values first; none if the study is no grid."""
    if sampling_of(data) != GRID:
        return []
    return sorted((_grid_axis(data, axis, units) for axis in axes_of(data)), key=lambda axis: -len(axis.values))


def _grid_axis(data: xr.Dataset, axis: Axis, units: System) -> GridAxis:
    key = axis.keys[0]
    if len(axis.keys) == 1 and np.issubdtype(data[axis.coordinates[0]].dtype, np.number):
        shown, unit = shown_values(data, key, units)
        values, members = np.unique(shown, return_inverse=True)
        base = base_value(data, key)
        shown_base = float(in_shown_unit(np.array([base]), key, units)[0][0])
        return GridAxis(axis, axis.name, unit, values, (), members, shown_base)
    texts = [
        ", ".join(value_text(data, each, member, units) for each in axis.keys) for member in range(len(data.member))
    ]
    if len(axis.keys) > 1:
        texts = _short(data, axis, texts, units)
    rows = {text: place for place, text in enumerate(dict.fromkeys(texts))}
    members = np.array([rows[text] for text in texts])
    others = f" and {len(axis.keys) - 1} more" if len(axis.keys) > 1 else ""
    name = key_words(axis.keys[0]) + others
    return GridAxis(axis, name, "", np.arange(float(len(rows))), tuple(rows), members, float("nan"))


def _short(data: xr.Dataset, axis: Axis, texts: list[str], units: System) -> list[str]:
    """Return what the first key has, where that tells rows apart; else the whole rows."""
    first = [value_text(data, axis.keys[0], member, units) for member in range(len(data.member))]
    return first if len({*first}) == len({*texts}) else texts


def laid_out(across: GridAxis, up: GridAxis, members: NDArray[Any], worst: np.ufunc) -> NDArray[Any]:
    """Lay a figure out over two axes.

    Parameters
    ----------
    across, up : GridAxis
        The two axes.
    members : array
        The figure of each member.
    worst : ufunc
        What makes one of two values: `numpy.fmax`, `numpy.fmin` or `numpy.logical_or`.

    Returns
    -------
    array of shape (values of up, values of across)
        The worst over all other axes; NaN, or no, where there is no member.
    """
    start: Any = False if members.dtype.kind == "b" else np.nan
    found = np.full((len(up.values), len(across.values)), start)
    worst.at(found, (up.members, across.members), members)
    return found


def largest_block(free: NDArray[np.bool_]) -> tuple[slice, slice] | None:
    """Return the largest rectangle of neighbours that are all free, as slices; None if none is free."""
    best: tuple[slice, slice] | None = None
    most = 0
    height = np.zeros(free.shape[1], dtype=np.int64)
    for row in range(free.shape[0]):
        height = np.where(free[row], height + 1, 0)
        for first in range(free.shape[1]):
            lowest = np.minimum.accumulate(height[first:])
            sizes = lowest * np.arange(1, len(lowest) + 1)
            last = int(sizes.argmax())
            if sizes[last] > most:
                most = int(sizes[last])
                best = slice(row + 1 - int(lowest[last]), row + 1), slice(first, first + last + 1)
    return best
