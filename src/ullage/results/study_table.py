"""A small study as a table on the screen: a line for each member."""

from __future__ import annotations

import math

import numpy as np
import xarray as xr

from ullage.results.display import System, short, shown_value
from ullage.results.study_axes import axes_of, figure_values, key_words, value_text
from ullage.results.study_forbidden import free

MOST_LINES = 40  # own choice: what is looked through at a glance
_NAME, _COLUMN, _LETTERS = 22, 7, 66
_MINUTE = 60.0
_COLUMNS = {
    "oil": "peak_oil_temperature",
    "feed": "lowest_feed_gauge_pressure",
    "tank": "highest_headspace_gauge_pressure",
    "full": "highest_oil_level",
    "gas": "cavitation_exposure",
    "lifts": "relief_openings",
}
_SI = {"oil": "K", "feed": "Pa", "tank": "Pa"}


def study_table(data: xr.Dataset, units: System) -> list[str]:
    """Return a table of the members: what each has, hottest oil, lowest feed, highest tank, fullest, gas, cap lifts.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study in SI units, of at most `MOST_LINES` members.
    units : str
        "metric" or "us".

    Returns
    -------
    list of str
        Lines of at most 66 characters, two of them heads, the last says what the star means.
    """
    axes = axes_of(data)
    keys = axes[0].keys if len(axes) == 1 else [axis.keys[0] for axis in axes]
    temperature, pressure = (shown_value(0.0, unit, units)[1] for unit in ("K", "Pa"))
    names = ", ".join(key_words(key) for key in keys)
    lines = [_line(names, [*_COLUMNS]), _line("", [temperature, pressure, pressure, "%", "min", ""])]
    good = free(data, units)
    columns = {name: figure_values(data, figure) for name, figure in _COLUMNS.items()}
    for member in range(len(good)):
        values = ", ".join(value_text(data, key, member, units) for key in keys)
        numbers = [_number(name, float(column[member]), units) for name, column in columns.items()]
        lines.append(_line(values, [*numbers, "" if good[member] else "*"]))
    return [*lines, "* not free of what is named below"] if not np.all(good) else lines


def _number(name: str, value: float, units: System) -> str:
    if math.isnan(value):
        return "-"
    if name in _SI:
        return short(shown_value(value, _SI[name], units)[0])
    if name == "full":
        return f"{100.0 * value:.0f}"
    return f"{value:.0f}" if name == "lifts" else short(value / _MINUTE)


def _line(name: str, columns: list[str]) -> str:
    shown = name if len(name) < _NAME else f"{name[: _NAME - 2]}."
    return f"{shown:<{_NAME}}{''.join(f'{column:<{_COLUMN}}' for column in columns)}".rstrip()[:_LETTERS]
