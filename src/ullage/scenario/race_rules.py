"""Rules on what the race, the data sheets and the start make of the keys."""

from __future__ import annotations

from collections.abc import Iterator

from ullage.duty.events import CAP, TOP_UP, TimedEvent
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.circuit import InitialGas, initial_gas, race_pieces
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.events import timed_events
from ullage.scenario.parameters import make_parameters
from ullage.units import show_both

RACE_RULES: list[Rule] = []

_LONGEST_RACE = 200 * 3600.0
_MOST_ROWS = 1_000_000  # some kilobyte of memory each
_LEAST_SLIP, _MOST_SLIP = 1e-10, 1e-6
_LEAST_FRICTION, _MOST_FRICTION = 0.01, 0.3

_OIL = tuple(
    f"fluid.{key}"
    for key in ("preset", "viscosity_40", "viscosity_100", "density_15", "cold_temperature", "cold_viscosity")
)
_CLOCK = (
    "duty.laps",
    "duty.recording",
    "duty.segment.length",
    "duty.segment.duration",
    "duty.segment.vehicle_speed",
    "duty.stop.name",
    "duty.stop.after_lap",
    "duty.stop.duration",
)
_EVENTS = ("event.action", "event.time", "event.stop", "event.after")
_VOLUMES = (
    "reservoir.volume",
    "reservoir.fill",
    "reservoir.fill_temperature",
    "reservoir.expansion",
    "pump.oil_volume",
    "steering_gear.oil_volume",
    "cooler.oil_volume",
    "fluid.preset",
    "fluid.density_15",
)
_PRESSURE = ("start.headspace_pressure", "start.elevation", "weather.pressure_offset")
_TEMPERATURE = ("start.temperature", "weather.temperature", "weather.point")


def _with_an_oil(spec: ScenarioSpec) -> ScenarioSpec:
    """Return the specification with some oil where it names none, for rules that do not ask which."""
    if spec.fluid.preset is not None:
        return spec
    return spec.model_copy(update={"fluid": spec.fluid.model_copy(update={"preset": "ATF"})})


def _happenings(spec: ScenarioSpec) -> list[TimedEvent]:
    return timed_events(_with_an_oil(spec))


def _gas(spec: ScenarioSpec) -> InitialGas:
    return initial_gas(_with_an_oil(spec))


@rule(RACE_RULES, *_OIL, "pump.displacement", "pump.flow_point")
def _slip(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.pump.flow_point is None:
        return
    slip = make_parameters(spec, 1.0).slip_coefficient
    if 0.0 < slip < _LEAST_SLIP or slip > _MOST_SLIP:
        yield ("pump", "flow_point"), f"gives a slip of {slip:.3g}, outside {_LEAST_SLIP:g} to {_MOST_SLIP:g}"


@rule(RACE_RULES, *_OIL, "pump.displacement", "pump.torque_point", "pump.viscous_drag", "pump.idle_torque")
def _friction(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.pump.torque_point is None:
        return
    friction = make_parameters(spec, 1.0).friction
    if not _LEAST_FRICTION <= friction <= _MOST_FRICTION:
        text = f"gives a friction of {friction:.3g}, outside {_LEAST_FRICTION:g} to {_MOST_FRICTION:g}"
        yield ("pump", "torque_point"), text


@rule(RACE_RULES, *_CLOCK)
def _length(spec: ScenarioSpec) -> Iterator[Found]:
    end = race_pieces(spec)[0][-1].end
    if end > _LONGEST_RACE:
        yield ("duty",), f"the race lasts {end / 3600:.0f} h; the limit is {_LONGEST_RACE / 3600:.0f} h"


@rule(RACE_RULES, *_CLOCK, "duty.sample_interval")
def _rows(spec: ScenarioSpec) -> Iterator[Found]:
    end = race_pieces(spec)[0][-1].end
    if end <= _LONGEST_RACE and end / spec.duty.sample_interval > _MOST_ROWS:
        yield ("duty", "sample_interval"), f"gives more than {_MOST_ROWS} rows; take a longer one"


@rule(RACE_RULES, "duty.laps", "duty.recording")
def _recorded_rows(spec: ScenarioSpec) -> Iterator[Found]:
    recording = spec.duty.recording
    if recording is not None and len(recording.lap.time) * spec.duty.laps > _MOST_ROWS:
        yield ("duty", "laps"), f"gives more than {_MOST_ROWS} rows of the recording; thin it out"


@rule(RACE_RULES, *_CLOCK, "event.time", each="event")
def _late(spec: ScenarioSpec) -> Iterator[Found]:
    end = race_pieces(spec)[0][-1].end
    for place, event in enumerate(spec.event):
        if event.time is not None and event.time >= end:
            yield ("event", place, "time"), f"is not before the end of the race at {end:.0f} s"


@rule(RACE_RULES, "event.stop", "event.after", "duty.stop.name", "duty.stop.duration", each="event")
def _after_the_stop(spec: ScenarioSpec) -> Iterator[Found]:
    durations = {stop.name: stop.duration for stop in spec.duty.stop}
    for place, event in enumerate(spec.event):
        if event.stop in durations and event.after > durations[event.stop]:
            text = f"is longer than the stop of {show_both(durations[event.stop], 'time')}"
            yield ("event", place, "after"), text


@rule(RACE_RULES, *_CLOCK, *_EVENTS)
def _order(spec: ScenarioSpec) -> Iterator[Found]:
    state = {"cap": "on", "engine": "on"}
    for event in _happenings(spec):
        if event.name in state:
            if state[event.name] == event.direction:
                yield ("event",), f"at {event.time:.0f} s the {event.name} is already {event.direction}"
            state[event.name] = event.direction
        elif state["cap"] == "on":
            yield ("event",), f"at {event.time:.0f} s a top-up needs the cap off"


@rule(RACE_RULES, *_CLOCK, *_EVENTS, "event.duration")
def _pouring(spec: ScenarioSpec) -> Iterator[Found]:
    events = _happenings(spec)
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


@rule(RACE_RULES, *_VOLUMES, "reservoir.compliance", *_PRESSURE, *_TEMPERATURE)
def _air_space(spec: ScenarioSpec) -> Iterator[Found]:
    gas = _gas(spec)
    if gas.headspace_volume < 0.005 * spec.reservoir.volume:
        yield ("reservoir", "fill"), f"leaves no air space at the start, at {show_both(gas.temperature, 'temperature')}"


@rule(RACE_RULES, *_VOLUMES, "reservoir.splash_volume")
def _oil_left(spec: ScenarioSpec) -> Iterator[Found]:
    gas = _gas(spec)
    if gas.coldest_reservoir < 0.1 * spec.reservoir.volume:
        yield ("reservoir", "volume"), "holds too little oil: cold, the lines and parts would draw the tank empty"
    elif gas.left_after_loss < 0.0:
        text = "is too small for the oil in lines and parts: once it has run over they could empty it"
        yield ("reservoir", "volume"), text


@rule(RACE_RULES, *_PRESSURE, *_TEMPERATURE, "fluid.water_content", "fluid.water_saturation_20")
def _vapour(spec: ScenarioSpec) -> Iterator[Found]:
    if _gas(spec).air_pressure <= 0.0:
        yield ("start", "headspace_pressure"), "is below the vapour pressure of the wet oil"


@rule(RACE_RULES, *_PRESSURE, "cap.kind", "cap.relief_pressure")
def _start_over_the_cap(spec: ScenarioSpec) -> Iterator[Found]:
    limit = spec.cap.relief_pressure
    if spec.cap.kind == "sealed" and _gas(spec).over_ambient > limit:
        text = f"is above the relief pressure of the cap, {show_both(limit, 'pressure difference')}"
        yield ("start", "headspace_pressure"), text


@rule(RACE_RULES, *_PRESSURE, "reservoir.rating")
def _start_over_the_rating(spec: ScenarioSpec) -> Iterator[Found]:
    limit = spec.reservoir.rating.pascal
    if _gas(spec).over_ambient > limit:
        text = f"is above the rating of the tank, {show_both(limit, 'pressure difference')} over ambient"
        yield ("start", "headspace_pressure"), text
