"""Faults between keys: each rule looks at the whole and returns the place and a sentence."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from ullage.duty.events import CAP, TOP_UP
from ullage.scenario.circuit import fluid_grade, initial_gas, race_pieces, timed_events
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.parameters import make_parameters
from ullage.scenario.presets import GRADES
from ullage.scenario.spread_checks import spread_faults
from ullage.units import show

Place = tuple[str | int, ...]
Fault = tuple[Place, str]

_LONGEST_RACE = 200 * 3600.0
_MOST_ROWS = 5_000_000
_LEAST_SLIP, _MOST_SLIP = 1e-10, 1e-6
_LEAST_FRICTION, _MOST_FRICTION = 0.01, 0.3


def cross_faults(spec: ScenarioSpec) -> list[Fault]:
    """Return every fault between keys of a specification whose single values are right.

    Parameters
    ----------
    spec : ScenarioSpec
        The specification.

    Returns
    -------
    list of tuple
        Place and sentence.
    """
    fluid = [*_fluid(spec)]
    faults = [
        *fluid,
        *_pump(spec),
        *([] if fluid else _data_sheet(spec)),
        *_thermostats(spec),
        *_ratings(spec),
        *_segments(spec),
        *spread_faults(spec),
        *_stops(spec),
        *_events(spec),
        *_weather(spec),
    ]
    return faults or [*_race(spec), *_event_order(spec), *_pouring(spec), *_start(spec)]


def _fluid(spec: ScenarioSpec) -> Iterator[Fault]:
    fluid = spec.fluid
    own = (fluid.viscosity_40, fluid.viscosity_100, fluid.density_15)
    if fluid.preset is not None and fluid.preset not in GRADES:
        yield ("fluid", "preset"), f"'{fluid.preset}' is no preset; there are: {', '.join(GRADES)}"
        return
    if fluid.preset is None and None in own:
        yield ("fluid",), "give a preset, or viscosity_40, viscosity_100 and density_15"
        return
    grade = fluid_grade(fluid)
    if grade.viscosity_100 >= grade.viscosity_40:
        yield ("fluid", "viscosity_100"), "must be below viscosity_40"
    if (fluid.cold_temperature is None) != (fluid.cold_viscosity is None):
        yield ("fluid",), "cold_temperature and cold_viscosity belong together"
    elif fluid.cold_viscosity is not None and fluid.cold_viscosity <= grade.viscosity_40:
        yield ("fluid", "cold_viscosity"), "must be above viscosity_40"


def _pump(spec: ScenarioSpec) -> Iterator[Fault]:
    pump = spec.pump
    if pump.controlled_flow is not None and pump.bypass_routing is None:
        yield ("pump", "bypass_routing"), "missing: say where the flow control sends its bypass, 'inlet' or 'reservoir'"
    if pump.flow_point is not None:
        if pump.flow_point.flow >= pump.displacement / (2.0 * math.pi) * pump.flow_point.speed:
            yield ("pump", "flow_point", "flow"), "is not below displacement times speed: no slip can be found"
        if "slip_coefficient" in pump.model_fields_set:
            yield ("pump", "slip_coefficient"), "is found from flow_point; give one of the two"
    if pump.minimum_inlet_pressure.gauge and pump.rating_elevation is None:
        text = "is over ambient: say where with rating_elevation, or write it as absolute, such as '55 kPaa'"
        yield ("pump", "minimum_inlet_pressure"), text
    if pump.torque_point is not None and "friction" in pump.model_fields_set:
        yield ("pump", "friction"), "is found from torque_point; give one of the two"


def _data_sheet(spec: ScenarioSpec) -> Iterator[Fault]:
    found = make_parameters(spec, 1.0)
    slip = found.slip_coefficient
    if spec.pump.flow_point is not None and (0.0 < slip < _LEAST_SLIP or slip > _MOST_SLIP):
        text = f"gives a slip of {slip:.3g}, outside {_LEAST_SLIP:g} to {_MOST_SLIP:g}"
        yield ("pump", "flow_point"), text
    if spec.pump.torque_point is not None and not _LEAST_FRICTION <= found.friction <= _MOST_FRICTION:
        text = f"gives a friction of {found.friction:.3g}, outside {_LEAST_FRICTION:g} to {_MOST_FRICTION:g}"
        yield ("pump", "torque_point"), text


def _thermostats(spec: ScenarioSpec) -> Iterator[Fault]:
    cooler = spec.cooler
    for high, low in (
        ("fan_on_temperature", "fan_off_temperature"),
        ("thermostat_open_temperature", "thermostat_shut_temperature"),
    ):
        upper, lower = getattr(cooler, high), getattr(cooler, low)
        if (upper is None) != (lower is None):
            yield ("cooler", high), f"{high} and {low} belong together"
        elif upper is not None and upper < lower + 0.5:
            yield ("cooler", low), f"must be at least 0.5 K below {high}"


def _ratings(spec: ScenarioSpec) -> Iterator[Fault]:
    for part, name in (("reservoir", "rating"), ("pump", "seal_rating")):
        if not getattr(getattr(spec, part), name).gauge:
            yield (part, name), "is a rating over ambient: write it as gauge, such as '2.5 barg'"


def _segments(spec: ScenarioSpec) -> Iterator[Fault]:
    if not spec.duty.segment and spec.duty.recording is None:
        yield ("duty", "segment"), "missing: a lap needs segments, or a recording in their place"
    if spec.duty.segment and spec.duty.recording is not None:
        yield ("duty", "recording"), "stands in place of segments; give one of the two"
    for place, segment in enumerate(spec.duty.segment):
        where: Place = ("duty", "segment", place)
        if (segment.length is None) == (segment.duration is None):
            yield where, "give either length or duration"
        elif segment.length is not None and segment.vehicle_speed == 0.0:
            yield (*where, "vehicle_speed"), "a segment with a length needs a speed"


def _stops(spec: ScenarioSpec) -> Iterator[Fault]:
    names = [stop.name for stop in spec.duty.stop]
    for place, stop in enumerate(spec.duty.stop):
        where: Place = ("duty", "stop", place)
        if names.count(stop.name) > 1:
            yield (*where, "name"), f"'{stop.name}' is used twice"
        if stop.after_lap > spec.duty.laps:
            yield (*where, "after_lap"), f"the race has {spec.duty.laps} laps"


def _events(spec: ScenarioSpec) -> Iterator[Fault]:
    names = [stop.name for stop in spec.duty.stop]
    for place, event in enumerate(spec.event):
        where: Place = ("event", place)
        if (event.time is None) == (event.stop is None):
            yield where, "give either time or stop"
        if event.stop is not None and event.stop not in names:
            yield (*where, "stop"), f"no stop is called '{event.stop}'; there are: {', '.join(names) or 'none'}"
        if event.action == TOP_UP and event.volume is None:
            yield (*where, "volume"), "missing: a top-up needs a volume"
        for key in () if event.action == TOP_UP else ("volume", "temperature", "duration"):
            if key in event.model_fields_set:
                yield (*where, key), f"belongs to a top-up; '{event.action}' has none"
        if event.time is not None and "after" in event.model_fields_set:
            yield (*where, "after"), "belongs to a stop; the event has a time of its own"


def _weather(spec: ScenarioSpec) -> Iterator[Fault]:
    times = [point.time for point in spec.weather.point]
    if any(later <= earlier for earlier, later in itertools.pairwise(times)):
        yield ("weather", "point"), "times must increase"


def _race(spec: ScenarioSpec) -> Iterator[Fault]:
    pieces, _ = race_pieces(spec)
    recording, end = spec.duty.recording, pieces[-1].end
    if end > _LONGEST_RACE:
        yield ("duty",), f"the race lasts {end / 3600:.0f} h; the limit is {_LONGEST_RACE / 3600:.0f} h"
    elif end / spec.duty.sample_interval > _MOST_ROWS:
        yield ("duty", "sample_interval"), f"gives more than {_MOST_ROWS} rows; take a longer one"
    elif recording is not None and len(recording.lap.time) * spec.duty.laps > _MOST_ROWS:
        yield ("duty", "laps"), f"give more than {_MOST_ROWS} rows of the recording; thin it out"
    for place, event in enumerate(spec.event):
        if event.time is not None and event.time >= end:
            yield ("event", place, "time"), f"is not before the end of the race at {end:.0f} s"
    for place, event in enumerate(spec.event):
        for stop in spec.duty.stop:
            if event.stop == stop.name and event.after > stop.duration:
                yield ("event", place, "after"), f"is longer than the stop of {show(stop.duration, 'time')}"


def _event_order(spec: ScenarioSpec) -> Iterator[Fault]:
    state = {"cap": "on", "engine": "on"}
    for event in timed_events(spec):
        if event.name in state:
            if state[event.name] == event.direction:
                yield ("event",), f"at {event.time:.0f} s the {event.name} is already {event.direction}"
            state[event.name] = event.direction
        elif state["cap"] == "on":
            yield ("event",), f"at {event.time:.0f} s a top-up needs the cap off"


def _pouring(spec: ScenarioSpec) -> Iterator[Fault]:
    events = timed_events(spec)
    end = race_pieces(spec)[0][-1].end
    for place, event in enumerate(events):
        if event.name != TOP_UP:
            continue
        done = event.time + event.duration
        later = [other for other in events[place + 1 :] if other.time < done]
        if done > end:
            yield ("event",), f"the top-up at {event.time:.0f} s is not poured by the end of the race at {end:.0f} s"
        if any(other.name == CAP and other.direction == "on" for other in later):
            yield ("event",), f"the top-up at {event.time:.0f} s is still pouring when the cap goes on"
        if any(other.name == TOP_UP for other in later):
            yield ("event",), f"the top-up at {event.time:.0f} s is still pouring when the next begins"


def _start(spec: ScenarioSpec) -> Iterator[Fault]:
    gas = initial_gas(spec)
    if gas.headspace_volume < 0.005 * spec.reservoir.volume:
        yield ("reservoir", "fill"), f"leaves no air space at the start ({show(gas.temperature, 'temperature')})"
    if gas.coldest_reservoir < 0.1 * spec.reservoir.volume:
        yield ("reservoir", "volume"), "too little oil: cold, the lines and parts would draw the tank empty"
    elif gas.left_after_loss < 0.0:
        yield (
            ("reservoir", "volume"),
            "too small for the oil in lines and parts: once it has run over they could empty it",
        )
    if gas.air_pressure <= 0.0:
        yield ("start", "headspace_pressure"), "is below the vapour pressure of the wet oil"
    if spec.cap.kind == "sealed" and gas.over_ambient > spec.cap.relief_pressure:
        yield ("start", "headspace_pressure"), "is above the relief pressure of the cap"
    if gas.over_ambient > spec.reservoir.rating.pascal:
        yield ("start", "headspace_pressure"), "is above the rating of the tank"
