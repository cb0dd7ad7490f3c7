"""What can be done at a stop, as a picture names and draws it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import xarray as xr

from ullage.report.labels import clipped, drawable, signed
from ullage.report.traces import Floats
from ullage.results.pit_gas import more_gas
from ullage.results.pit_table import choice_name

SHUT = "shut"
# own choice: a choice that stands so much longer than the plan waits [s]
LONG_WAIT = 900.0

_NAME_LENGTH = 15  # of a crew's own name
_STYLES: dict[str, dict[str, Any]] = {
    SHUT: {"color": "black", "linestyle": "-", "linewidth": 2.8},
    "refit": {"color": "#c1272d", "linestyle": (0, (4, 1.2)), "linewidth": 1.3},
    "top_up": {"color": "#9a5b00", "linestyle": (0, (4, 1.2, 1, 1.2)), "linewidth": 1.3},
    "recharge": {"color": "#4aa3df", "linestyle": "-", "linewidth": 1.1},
    "cool_then_open": {"color": "#00805c", "linestyle": (0, (1.6, 0.8)), "linewidth": 2.4},
    "cool_then_open_engine_off": {"color": "#7b3294", "linestyle": (0, (0.8, 0.8)), "linewidth": 2.0},
    "left_off": {"color": "#c1272d", "linestyle": (0, (2.6, 0.8)), "linewidth": 2.8},
}
_OWN: tuple[dict[str, Any], ...] = (
    {"color": "0.45", "linestyle": "-", "linewidth": 1.8},
    {"color": "#0072b2", "linestyle": (0, (1, 1.6)), "linewidth": 1.3},
    {"color": "#0072b2", "linestyle": (0, (6, 1, 1, 1, 1, 1)), "linewidth": 1.1},
    {"color": "#7b3294", "linestyle": (0, (9, 2)), "linewidth": 1.0},
    {"color": "0.3", "linestyle": (0, (2, 2)), "linewidth": 1.0},
)


def labels_of(choices: xr.Dataset) -> list[str]:
    """Return the labels of the choices, in their order."""
    return [str(label) for label in choices.choice.values]


def short_name(label: str) -> str:
    """Return the name of a choice in words, short enough for a column."""
    name = choice_name(label)
    return name if label in _STYLES else clipped(drawable(name), _NAME_LENGTH, 0)


def styles_of(choices: xr.Dataset) -> dict[str, dict[str, Any]]:
    """Return how each choice is drawn: line style and width tell up to a dozen apart without colour."""
    own = [label for label in labels_of(choices) if label not in _STYLES]
    return _STYLES | {label: _OWN[place % len(_OWN)] for place, label in enumerate(own)}


def figure_of(choices: xr.Dataset, name: str, label: str) -> float:
    """Return a figure of one choice in SI units; NaN if it is missing."""
    labels = labels_of(choices)
    return float(choices[name].values[labels.index(label)]) if name in choices and label in labels else math.nan


def gas_minutes(choices: xr.Dataset, label: str) -> str:
    """Write the minutes of gas that a choice has more than the cap left shut, whose own are written as they are.

    Least to most over the models of the air; a question mark where they contradict each other, "" if unknown.
    """
    if label == SHUT:
        by_model = choices.cavitation_exposure_by_air_model.sel(choice=SHUT).values / 60.0
        least, most, known = float(by_model.min()), float(by_model.max()), True
    else:
        more = more_gas(choices, label)
        least, most, known = more.least / 60.0, more.most / 60.0, more.known
    if math.isnan(least + most):
        return ""
    low, high = (signed(f"{round(minutes) + 0:d}") for minutes in (least, most))
    return (low if low == high else f"{low} to {high}") if known else "?"


def status_of(choices: xr.Dataset, label: str) -> str:
    """Return how the march of a choice ended: "done", or what stopped it."""
    return str(choices.status.values[labels_of(choices).index(label)]) if "status" in choices else "done"


def planned_stop(choices: xr.Dataset) -> float:
    """Return how long the truck stands if nobody opens anything [s]."""
    planned = figure_of(choices, "stop_duration", SHUT)
    return planned if math.isfinite(planned) else float(np.nanmin(np.append(choices.stop_duration.values, 1e9)))


def standing(choices: xr.Dataset, label: str) -> float:
    """Return how long a choice stands [s]."""
    stands = figure_of(choices, "stop_duration", label)
    return stands if math.isfinite(stands) else planned_stop(choices)


def waits(choices: xr.Dataset, label: str) -> bool:
    """Tell whether a choice stands much longer than the plan."""
    return standing(choices, label) > planned_stop(choices) + LONG_WAIT


def running_mean(time: Floats, values: Floats, window: float) -> Floats:
    """Smooth a trace over a window about each time.

    Parameters
    ----------
    time : array
        Times, not decreasing [s].
    values : array
        Values; NaN is left out of each mean, and stays.
    window : float
        Width of the window [s].

    Returns
    -------
    array
        Means, weighted with the time that each value stands for.
    """
    held = np.isfinite(values)
    weight = np.where(held, np.gradient(time), 0.0) if len(time) > 1 else held.astype(np.float64)
    sums = np.append(0.0, np.cumsum(weight * np.where(held, values, 0.0)))
    weights = np.append(0.0, np.cumsum(weight))
    first = np.searchsorted(time, time - 0.5 * window, side="left")
    after = np.searchsorted(time, time + 0.5 * window, side="right")
    total, means = weights[after] - weights[first], np.full(len(time), np.nan)
    np.divide(sums[after] - sums[first], total, out=means, where=held & (total > 0.0))
    return means
