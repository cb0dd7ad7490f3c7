"""What a choice made of the race from the stop on: figures of one march, in SI units."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ullage.duty.events import CAP
from ullage.errors import STATUS_DONE, failure_sentence
from ullage.kernel.outputs import Rows
from ullage.physics.air import GAS_CONSTANT
from ullage.results.summary import state_figures
from ullage.results.trace import Trace
from ullage.scenario.compile import Problem

FIRST_DRIVE = 600.0  # how long after the stop the pump's first pressures are looked at; own choice [s]

_TOUCHING = 1e-6  # stops that follow each other stand on one clock [s]

_SINCE_THE_START = ("air_vented", "oil_lost", "oil_drawn_off", "shaft_energy")


def stint_figures(problem: Problem, trace: Trace, stop: str) -> dict[str, Any]:
    """Return the figures of a choice, counted from the stop.

    Parameters
    ----------
    problem : Problem
        The race with the choice.
    trace : Trace
        Its march from the beginning of the stop to the finish, extremes cleared before.
    stop : str
        Name of the stop.

    Returns
    -------
    dict
        SI figures by name; not a number where there is none, and, but for what the opening found, of a race that could
        not be finished.
    """
    rows = trace.rows
    here = next(place for place in problem.stops if place.name == stop)
    begin = here.end
    for place in sorted(problem.stops, key=lambda place: place.start):
        if here.start < place.start <= begin + _TOUCHING:
            begin = place.end
    end = min([place.start for place in problem.stops if place.start > begin], default=float(rows.time[-1]))
    found: dict[str, Any] = {name: value[()] for name, value in state_figures(np.array(trace.state)).items()}
    for name in _SINCE_THE_START:
        found[name] = found[name] - _quadrature(rows, name)
    drive = _between(rows, begin, end)
    first = _between(rows, begin, min(end, begin + FIRST_DRIVE))
    told: dict[str, Any] = {
        **found,
        "finish_time": float(rows.time[-1]),
        "feed_gauge_pressure_after_stop": _turning_mean(rows, "feed_gauge_pressure", first),
        "pump_chamber_pressure_after_stop": _turning_mean(rows, "pump_chamber_pressure", first),
        "stint_feed_gauge_pressure": _turning_mean(rows, "feed_gauge_pressure", drive),
        "stint_gauge_pressure": _mean(rows, "headspace_gauge_pressure", drive),
        "finish_gauge_pressure": float(rows.headspace_gauge_pressure[-1]),
        **_return(problem, rows, drive, here.start, here.end),
    }
    if trace.status != STATUS_DONE:
        told = {name: np.full(np.shape(value), np.nan)[()] for name, value in told.items()}
    return {
        **told,
        **_opening(problem, rows, here.start, here.end),
        "stop_duration": here.end - here.start,
        "status": failure_sentence(trace.status)[0],
    }


def _quadrature(rows: Rows, name: str) -> float:
    return float(rows["shaft_work" if name == "shaft_energy" else name][0])


def _between(rows: Rows, start: float, end: float) -> NDArray[np.int64]:
    """Return the rows of a time; a row tells of the interval before it."""
    return np.flatnonzero((rows.time > start) & (rows.time <= end))


def _turning_mean(rows: Rows, name: str, chosen: NDArray[np.int64]) -> float:
    """Return the mean over time of an output while the pump turns."""
    return _mean(rows, name, chosen[rows.pump_speed[chosen] > 0.0])


def _mean(rows: Rows, name: str, chosen: NDArray[np.int64]) -> float:
    lengths = rows.time[chosen] - rows.time[chosen - 1]
    total = float(lengths.sum())
    return float((rows[name][chosen] * lengths).sum()) / total if total > 0.0 else np.nan


def _at(rows: Rows, time: float) -> int:
    """Return the last row not after a time; rows stand 10 ms after an event, so an event finds what was before it."""
    return max(0, int(np.searchsorted(rows.time, time, side="right")) - 1)


def _cap_moves(problem: Problem, start: float, end: float) -> tuple[float, float]:
    """Return when the cap first goes off at a stop and when it goes on again [s]; not a number if it does not."""
    moves = [event for event in problem.events if event.name == CAP and event.time >= start]
    off = min([event.time for event in moves if event.direction == "off" and event.time <= end], default=np.nan)
    on = min([event.time for event in moves if event.direction == "on" and event.time > off], default=np.nan)
    return off, on


def _opening(problem: Problem, rows: Rows, start: float, end: float) -> dict[str, float]:
    """Return what the first opening at the stop found."""
    off, on = _cap_moves(problem, start, end)
    found = {
        "opened": off - start,
        "refitted": on - start,
        "hottest_oil_opened": np.nan,
        "gauge_pressure_opened": np.nan,
    }
    if off <= rows.time[-1]:
        row = rows[_at(rows, off)]
        found["hottest_oil_opened"] = float(row.oil_temperature.max())
        found["gauge_pressure_opened"] = float(row.headspace_gauge_pressure)
    return found


def _return(problem: Problem, rows: Rows, drive: NDArray[np.int64], start: float, end: float) -> dict[str, float]:
    """Return how much pressure the stint brings, when, and where what came after a refit comes from.

    The air that came in since the refit, from the oil or through the cap, is worth its share of the pressure at the
    peak; what is left of the rise is oil that expands, warmer gas and thinner ambient air.
    """
    names: tuple[str, ...] = ("regained_gauge_pressure", "regained_time")
    names += ("returned_from_oil", "returned_through_cap", "returned_by_heat")
    found = dict.fromkeys(names, np.nan)
    if len(drive) == 0:
        return found
    peak = rows[drive[np.argmax(rows.headspace_gauge_pressure[drive])]]
    found["regained_gauge_pressure"] = float(peak.headspace_gauge_pressure)
    found["regained_time"] = float(peak.time) - start
    refitted = _cap_moves(problem, start, end)[1]
    if refitted <= peak.time:
        shut = rows[min(_at(rows, refitted) + 1, len(rows) - 1)]
        worth = GAS_CONSTANT * float(peak.headspace_temperature) / float(peak.headspace_volume)
        through_cap = _let_in(peak) - _let_in(shut)
        from_oil = float(peak.headspace_air_mass - shut.headspace_air_mass) - through_cap
        rise = float(peak.headspace_gauge_pressure - shut.headspace_gauge_pressure)
        found["returned_from_oil"] = worth * from_oil
        found["returned_through_cap"] = worth * through_cap
        found["returned_by_heat"] = rise - worth * (from_oil + through_cap)
    return found


def _let_in(row: Any) -> float:
    """Return the air that the cap has let in less what it has let out [kg]."""
    return float(row.air_admitted - row.air_vented)
