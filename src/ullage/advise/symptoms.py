"""What each fault shows at a stop and the next morning, by racing this truck with it."""

from __future__ import annotations

import json
import math
import typing
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from ullage.advise.gauge_table import ENGINE_SPEED, columns_of, healthy, reading, stop_time
from ullage.advise.overnight import parked
from ullage.advise.symptom_words import HEALTHY, LOOK, signs_in_words, signs_of
from ullage.duty.events import TO_THE_MARK
from ullage.duty.laps import StopTime
from ullage.errors import STATUS_DONE, SimulationError, failure_sentence
from ullage.kernel.state import RESERVOIR
from ullage.results.display import System
from ullage.results.trace import trace_race, trace_until
from ullage.results.variables import VARIABLES, Variable, attributes
from ullage.scenario.checks import cross_faults
from ullage.scenario.circuit import ambient_temperature, timed_points
from ullage.scenario.compile import Problem, compile_problem, compile_problems
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.event_rules import EVENT_RULES
from ullage.scenario.event_spec import FAULT_ON, FAULT_SIZES, Event, Fault
from ullage.scenario.load import Scenario
from ullage.scenario.race_rules import RACE_RULES
from ullage.scenario.timed_events import event_times
from ullage.units import clock, show

FAULT_TIME = 60.0  # when each fault begins, or halfway to the stop if that is sooner [s]
HOT_FILL = 363.15  # of oil that is filled hot to the cold mark [K]; own choice
NIGHT = 12 * 3600.0

_BY_SPEED = ("feed_gauge_pressure", "sight_glass_transmittance")
_TABLE = {
    **{name: VARIABLES[name] for name in (*_BY_SPEED, "headspace_gauge_pressure", "oil_level")},
    "oil_temperature": Variable("K", "oil temperature in the tank"),
    "cavitation_exposure": VARIABLES["cavitation_exposure"],
    "overnight_gauge_pressure": Variable("Pa", "pressure in the air space, cold the next morning", "gauge"),
    "overnight_oil_level": Variable("1", "share of the tank taken by oil, cold the next morning"),
    "overnight_feed_gauge_pressure": Variable("Pa", "feed at idle, started cold the next morning", "gauge"),
}


class _Row(NamedTuple):
    """Figures of one truck, and how its race and night ended: status, time [s], and on which clock."""

    figures: dict[str, Any]
    status: int
    time: float
    clock: str


class _Stop(NamedTuple):
    """Where and how the gauges are read: the stop, idle and racing revs [rad s-1], and the night after [s, K]."""

    at: StopTime
    speeds: Sequence[float]
    night: float
    temperature: float


def symptom_table(
    scenario: Scenario,
    stop: str,
    *,
    night: float = NIGHT,
    temperature: float | None = None,
    units: System | None = None,
) -> xr.Dataset:
    """Race a truck with each fault, and say what the gauges show at a stop and the next morning.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario. Faults among its own events are left out: each row has one fault or none.
    stop : str
        Name of the stop at which the gauges are read, with the oil as hot as the race has made it.
    night : float
        How long the truck is then parked [s], up to 24 h.
    temperature : float, optional
        Ambient temperature of the night [K]; that of the start of the race if absent.
    units : str, optional
        "metric" or "us", for the words; as the scenario shows them if absent.

    Returns
    -------
    xarray.Dataset
        SI variables over `fault`, `HEALTHY` first. Hot at the stop: `headspace_gauge_pressure`, `oil_level`,
        `oil_temperature` of the tank, `cavitation_exposure`, and over `engine_speed` (idle and racing revs)
        `feed_gauge_pressure` and `sight_glass_transmittance`. Cold the next morning: `overnight_gauge_pressure`,
        `overnight_oil_level` and `overnight_feed_gauge_pressure`. Texts: `size`, `status`, `look` and `sign`. What a
        fault has stopped is not a number. The attribute `left_out` says as JSON which faults this truck cannot have,
        and why.

    Raises
    ------
    ValueError
        If there is no such stop.
    SimulationError
        If the healthy truck cannot be raced to the stop or parked for the night.

    Notes
    -----
    A fault begins a minute after the start with its usual size and lasts. `filled hot to the cold mark` is a tank that
    was filled to its mark with oil of 90 degC before the start. Gauges are read as `gauge_table.reading` says, the
    night is that of `overnight.parked`.
    """
    sound = healthy(scenario.spec)
    whole = compile_problem(sound)
    at, columns = stop_time(whole, stop), columns_of(sound, whole, stop)
    outside = ambient_temperature(sound, 0.0) if temperature is None else temperature
    how = _Stop(at, (columns.idle, columns.racing), night, outside)
    faulty, left_out = _trucks(sound, at)
    cut = [_up_to(spec, whole, at) for spec in faulty.values()]
    rows = [_row(spec, problem, how) for spec, problem in zip(cut, compile_problems(cut), strict=True)]
    if rows[0].status != STATUS_DONE:
        raise SimulationError(rows[0].status, rows[0].time)
    data = _dataset([*faulty], rows, how.speeds)
    found = {fault: signs_of(data, fault) for fault, row in zip(faulty, rows, strict=True) if row.status == STATUS_DONE}
    cap = sound.cap.relief_pressure if sound.cap.kind == "sealed" else math.inf
    words = signs_in_words(found, columns.racing, units or sound.display.units, cap)
    signs = [words.get(fault) or _stopped(row) for fault, row in zip(faulty, rows, strict=True)]
    looks = [LOOK.get(fault, "") for fault in faulty]
    data["look"] = "fault", np.array(looks), {"long_name": "where to look (common practice)"}
    data["sign"] = "fault", np.array(signs), {"long_name": "what the gauges show beside healthy"}
    data.attrs = {
        "title": sound.title,
        "stop": stop,
        "stop_time": at.start,
        "air_model": sound.air.model,
        "night": night,
        "night_temperature": outside,
        "left_out": json.dumps(left_out),
    }
    return data


def _trucks(sound: ScenarioSpec, at: StopTime) -> tuple[dict[str, ScenarioSpec], dict[str, str]]:
    """Return a healthy truck and those with each fault, and why the others cannot have theirs."""
    trucks, left_out = {HEALTHY: sound}, {}
    for fault in typing.get_args(Fault):
        truck = _with(sound, fault, min(FAULT_TIME, 0.5 * at.start))
        refused = [text for _, text in cross_faults(truck, [], EVENT_RULES, RACE_RULES)]
        if fault == "seal leak" and sound.cap.kind == "vented":
            refused = ["needs a sealed cap: a vented one is open anyway"]
        if at.start == 0.0:
            refused = ["has no time to show: the stop is at the start"]
        if refused:
            left_out[fault] = refused[0]
        else:
            trucks[fault] = truck
    return trucks, left_out


def _with(sound: ScenarioSpec, fault: Fault, time: float) -> ScenarioSpec:
    if fault == TO_THE_MARK:
        tank = sound.reservoir.model_copy(update={"fill_temperature": HOT_FILL})
        return sound.model_copy(update={"reservoir": tank})
    begins = Event(action=FAULT_ON, fault=fault, time=time)
    return sound.model_copy(update={"event": (*sound.event, begins)})


def _up_to(spec: ScenarioSpec, whole: Problem, at: StopTime) -> ScenarioSpec:
    """Return a race that ends with the lap of a stop: what comes later need not be built."""
    lap = int(whole.table.lap[np.searchsorted(whole.table.output_time, at.start)])
    names = {stop.name for stop in whole.stops if stop.start <= at.start}
    stops = tuple(stop for stop in spec.duty.stop if stop.name in names)
    timed = zip(spec.event, event_times(spec), strict=True)
    events = tuple(event for event, time in timed if time < at.start)
    duty = spec.duty.model_copy(update={"laps": lap, "stop": stops})
    weather = spec.weather.model_copy(update={"point": timed_points(spec)})
    return spec.model_copy(update={"duty": duty, "weather": weather, "event": events})


def _row(spec: ScenarioSpec, problem: Problem, how: _Stop) -> _Row:
    """Race one truck to the stop, read its gauges, park it for the night, and start it in the morning."""
    figures: dict[str, Any] = dict.fromkeys(_TABLE, np.nan)
    race = trace_until(problem, how.at.start)
    if race.status != STATUS_DONE:
        return _Row(figures, race.status, float(race.state.time), "")
    hot = reading(problem, race.state, how.speeds)
    figures |= {name: hot[name] for name in _BY_SPEED}
    figures |= {name: hot[name][0] for name in ("headspace_gauge_pressure", "oil_level")}
    figures["oil_temperature"] = race.state.temperature[RESERVOIR]
    figures["cavitation_exposure"] = race.state.cavitation_exposure
    parking = parked(spec, problem, race.state, duration=how.night, temperature=how.temperature)
    night = trace_race(parking)
    if night.status != STATUS_DONE:
        return _Row(figures, night.status, float(night.state.time), " of the night after")
    cold = reading(parking, night.state, how.speeds[:1])[0]
    figures["overnight_gauge_pressure"] = cold.headspace_gauge_pressure
    figures["overnight_oil_level"] = cold.oil_level
    figures["overnight_feed_gauge_pressure"] = cold.feed_gauge_pressure
    return _Row(figures, night.status, float(night.state.time), "")


def _stopped(row: _Row) -> str:
    reason, _ = failure_sentence(row.status)
    return f"At {clock(row.time)}{row.clock} it stops: {reason}."


def _dataset(faults: list[str], rows: list[_Row], speeds: Sequence[float]) -> xr.Dataset:
    found: dict[str, Any] = {}
    for name, variable in _TABLE.items():
        shape = (len(faults), len(speeds)) if name in _BY_SPEED else (len(faults),)
        values = np.empty(shape)
        for place, row in enumerate(rows):
            values[place] = row.figures[name]
        found[name] = ("fault", "engine_speed")[: len(shape)], values, attributes(variable)
    sizes = [_size(fault) for fault in faults]
    found["size"] = "fault", np.array(sizes), {"long_name": "how large the fault is"}
    statuses = [failure_sentence(row.status)[0] for row in rows]
    found["status"] = "fault", np.array(statuses), {"long_name": "`done`, or why race or night stopped"}
    coordinates = {
        "fault": ("fault", np.array(faults), {"long_name": "fault of the truck"}),
        "engine_speed": ("engine_speed", np.array(speeds), attributes(ENGINE_SPEED)),
    }
    return xr.Dataset(found, coordinates)


def _size(fault: str) -> str:
    usual = FAULT_SIZES.get(fault)
    if usual is None:
        return show(HOT_FILL, "temperature") if fault == TO_THE_MARK else ""
    return f"{usual.key} {usual.default}"
