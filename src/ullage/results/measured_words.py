"""How far the model is from the sensors of the truck, in a builder's words and without a verdict."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ullage.results.display import System
from ullage.results.verdict import STOPPING_OIL, WORRYING_OIL, moment
from ullage.units import KINDS, digits, factor

Figures = dict[str, Any]

_PRESSURE, _TEMPERATURE = "pressure difference", "temperature difference"
_NAMES = {
    "feed_gauge_pressure": "feed pressure",
    "headspace_gauge_pressure": "air space",
    "supply_pressure": "pressure at the steering valve",
    "headspace_temperature": "temperature of the air space",
    "ambient_temperature": "outside air",
}


def misfit_lines(figures: Figures, units: System) -> Iterator[str]:
    """Say how far the model is from each sensor, one sentence each.

    Parameters
    ----------
    figures : dict
        Summary figures.
    units : str
        "metric" or "us".
    """
    for name, kind, misfit in _by_sensor(figures["misfit"]):
        if misfit["rows"] == 0:
            yield f"Measured {name}: the log has nothing in what was simulated."
            continue
        typical = _size(misfit["root_mean_square"], kind, units)
        mean, worst = (_off(misfit[key], kind, units) for key in ("mean", "largest"))
        when = moment(figures, misfit["largest_time"], misfit["largest_lap"])
        rows = "1 row" if misfit["rows"] == 1 else f"{misfit['rows']} rows"
        off = f"{mean} on average, {typical} off typically, at worst {worst} {when}"
        yield f"Measured {name} ({rows}): the model reads {off}."


def misfit_warnings(figures: Figures, units: System) -> Iterator[str]:
    """Go through the lights that the model's mean distance from a sensor could turn.

    Parameters
    ----------
    figures : dict
        Summary figures.
    units : str
        "metric" or "us".
    """
    feed, left = _mean(figures["misfit"].get("feed_gauge_pressure")), figures["lowest_rating_margin"]
    if left is not None and feed > abs(left):
        off, near = (_size(value, _PRESSURE, units) for value in (feed, left))
        yield (
            f"the model's feed pressure is {off} off the measured on average, and only {near} are between the lowest "
            "and what the pump needs: that light may be wrong"
        )
    peaks = figures["peak_oil_temperature"]
    node = max(peaks, key=lambda name: peaks[name])
    oil = _mean(figures["misfit"].get("oil_temperature", {}).get(node))
    room = min(abs(peaks[node] - limit) for limit in (WORRYING_OIL, STOPPING_OIL))
    if oil > room:
        off, near = (_size(value, _TEMPERATURE, units) for value in (oil, room))
        yield (
            f"the model's oil in the {node.replace('_', ' ')} is {off} off the measured on average, and only {near} "
            "are between the hottest oil and where its light turns: it may be wrong"
        )


def _mean(misfit: Figures | None) -> float:
    """Return the size of a mean misfit; zero where nothing was measured."""
    return 0.0 if misfit is None or misfit["rows"] == 0 else abs(float(misfit["mean"]))


def _by_sensor(misfits: Figures) -> Iterator[tuple[str, str, Figures]]:
    """Go through the sensors: name, kind of the difference, misfit."""
    for name, misfit in misfits.items():
        if name == "oil_temperature":
            for node, of_node in misfit.items():
                yield f"oil, {node.replace('_', ' ')}", _TEMPERATURE, of_node
        else:
            yield _NAMES[name], _PRESSURE if name.endswith("pressure") else _TEMPERATURE, misfit


def _off(value: float, kind: str, units: System) -> str:
    size = _size(value, kind, units)
    return "the same" if size.startswith("0 ") else f"{size} {'high' if value > 0.0 else 'low'}"


def _size(value: float, kind: str, units: System) -> str:
    """Write the size of a difference with two digits, no finer than a hundredth."""
    shown = KINDS[kind]
    unit = shown.us if units == "us" else shown.metric
    return f"{digits(round(abs(value) / factor(unit, shown.unit), 2), 2)} {unit}"
