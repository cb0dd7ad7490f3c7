"""Rules on what the race, the data sheets and the start make of the keys."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from ullage.duty.events import (
    CAP,
    CAP_VALVES,
    ENGINE,
    FAN_OVERRIDE,
    FAULTS,
    LOST_OIL,
    RECHARGE,
    TO_THE_MARK,
    TOP_UP,
    TimedEvent,
)
from ullage.kernel.filling import InitialGas, OilLeft
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.circuit import initial_gas, oil_left, start_over_ambient
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.event_spec import FAN_AUTO, FAN_ON, FAULT_SIZES
from ullage.scenario.parameters import make_parameters
from ullage.scenario.race import race_pieces
from ullage.scenario.settings import fluid_grade
from ullage.scenario.stop_rules import CLOCK
from ullage.scenario.stretches import stop_duration
from ullage.scenario.timed_events import event_times, lost_mass, timed_events
from ullage.units import clock, show_both

RACE_RULES: list[Rule] = []

_LONGEST_RACE = 200 * 3600.0
MOST_ROWS = 1_000_000  # some kilobyte of memory each
_LEAST_SLIP, _MOST_SLIP = 1e-10, 1e-6
_LEAST_FRICTION, _MOST_FRICTION = 0.01, 0.3
_DRAWN_EMPTY = "cold, the lines and parts would draw the tank empty"
_LEAST_SHARE = 0.1  # of the tank that is oil when all is cold
_CAP_FOR = {TOP_UP: "off", TO_THE_MARK: "off", RECHARGE: "on"}
# what takes its time: how it is said to, and what to do where something cuts it short
_LASTING = {TOP_UP: ("pours", "pour earlier or faster"), RECHARGE: ("lasts", "begin earlier or make it shorter")}
_HOTTEST_FILL = 473.15  # above it the model says that it does not hold [K]

_OIL = tuple(
    f"fluid.{key}"
    for key in ("preset", "viscosity_40", "viscosity_100", "density_15", "cold_temperature", "cold_viscosity")
)
_EVENTS = ("event.action", "event.fault", "event.time", "event.stop", "event.after")
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
    "start.trapped_air",
)
_WATER = ("fluid.water_content", "fluid.water_saturation_20")
_PRESSURE = ("start.headspace_pressure", "start.elevation", "weather.pressure_offset")
_TEMPERATURE = ("start.temperature", "weather.temperature", "weather.point")


def _with_an_oil(spec: ScenarioSpec) -> ScenarioSpec:
    """Return the specification with some oil where it names none, for rules that do not ask which."""
    if spec.fluid.preset is not None:
        return spec
    return spec.model_copy(update={"fluid": spec.fluid.model_copy(update={"preset": "ATF"})})


def _happenings(spec: ScenarioSpec) -> list[tuple[int, TimedEvent]]:
    """Return the events in the order in which they happen, each with its place in the file."""
    whole = _with_an_oil(spec)
    times = event_times(whole)
    return list(zip(sorted(range(len(times)), key=times.__getitem__), timed_events(whole), strict=True))


def _gas(spec: ScenarioSpec) -> InitialGas:
    return initial_gas(_with_an_oil(spec))


def _left(spec: ScenarioSpec) -> OilLeft:
    return oil_left(_with_an_oil(spec))


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


@rule(RACE_RULES, *CLOCK)
def _length(spec: ScenarioSpec) -> Iterator[Found]:
    end = race_pieces(spec)[0][-1].end
    if end > _LONGEST_RACE:
        yield ("duty",), f"the race lasts {end / 3600:.0f} h; the limit is {_LONGEST_RACE / 3600:.0f} h"


@rule(RACE_RULES, *CLOCK, "duty.sample_interval")
def _rows(spec: ScenarioSpec) -> Iterator[Found]:
    pieces = race_pieces(spec)[0]
    end, held = pieces[-1].end, (piece.stretch.lock_holds for piece in pieces if piece.stretch.lock_holds)
    samples, holds = end / spec.duty.sample_interval, 4 * sum(holds.count for holds in held)
    if end <= _LONGEST_RACE and samples + holds > MOST_ROWS:
        key = "sample_interval" if samples >= holds else "laps"
        yield ("duty", key), f"gives more than {MOST_ROWS} rows; take {'a longer one' if samples >= holds else 'fewer'}"


@rule(RACE_RULES, *CLOCK, "event.time", each="event")
def _late(spec: ScenarioSpec) -> Iterator[Found]:
    end = race_pieces(spec)[0][-1].end
    for place, event in enumerate(spec.event):
        if event.time is not None and event.time >= end:
            text = f"is not before the end of the race at {clock(end)}: give an earlier time or a longer race"
            yield ("event", place, "time"), text


@rule(
    RACE_RULES,
    *("event.stop", "event.after", "duty.stop.name", "duty.stop.duration", "duty.stop.duration_spread", "duty.seed"),
    each="event",
)
def _after_the_stop(spec: ScenarioSpec) -> Iterator[Found]:
    durations = {stop.name: stop_duration(spec.duty, place) for place, stop in enumerate(spec.duty.stop)}
    for place, event in enumerate(spec.event):
        if event.stop in durations and event.after > durations[event.stop]:
            text = f"is longer than the stop, {clock(durations[event.stop])}: give a time within it, or 'time' instead"
            yield ("event", place, "after"), text


@rule(RACE_RULES, *CLOCK, *_EVENTS)
def _order(spec: ScenarioSpec) -> Iterator[Found]:
    state = {
        CAP: "on",
        ENGINE: "on",
        FAN_OVERRIDE: "off",
        **{name: "off" for name, effect in FAULTS.items() if effect.curable},
    }
    for place, event in _happenings(spec):
        moment = f"at {clock(event.time)}"
        if event.name in state:
            if state[event.name] == event.direction:
                yield ("event", place, "action"), f"{moment}: {_already(event)} before, or leave this out"
            state[event.name] = event.direction
        elif _CAP_FOR.get(event.name, state[CAP]) != state[CAP]:
            cap = f"the cap {_CAP_FOR[event.name]}; put '{CAP} {_CAP_FOR[event.name]}' before"
            yield ("event", place, "action"), f"{moment}: {_spoken(event.name)} needs {cap}"


def _already(event: TimedEvent) -> str:
    opposite = "off" if event.direction == "on" else "on"
    if event.name == FAN_OVERRIDE:
        left, first = ("forced on", FAN_AUTO) if event.direction == "on" else ("left to its thermostat", FAN_ON)
        return f"the fan is already {left}; put '{first}'"
    first = f"fault {opposite}" if event.name in FAULTS else f"{event.name} {opposite}"
    return f"{_spoken(event.name)} is already {event.direction}; put its '{first}'"


def _spoken(name: str) -> str:
    if name in (TOP_UP, RECHARGE):
        return f"a {name}"
    return f"'{name}'" if name in FAULTS else f"the {name}"


@rule(RACE_RULES, *CLOCK, *_EVENTS)
def _both_ways(spec: ScenarioSpec) -> Iterator[Found]:
    stuck: dict[str, str] = {}
    for place, event in _happenings(spec):
        if event.name not in FAULTS or (valve := FAULTS[event.name].channel) not in CAP_VALVES:
            continue
        before = stuck.get(valve, event.name)
        if before != event.name:
            text = f"'{event.name}' while there is '{before}': no valve is open and shut; put the 'fault off' of that"
            yield ("event", place, "action"), f"at {clock(event.time)}: {text} before"
        elif event.direction == "on":
            stuck[valve] = event.name
        else:
            stuck.pop(valve, None)


@rule(RACE_RULES, *CLOCK, *_EVENTS, "event.duration")
def _losses(spec: ScenarioSpec) -> Iterator[Found]:
    losses = [(place, event) for place, event in _happenings(spec) if event.name == LOST_OIL]
    for (_, earlier), (place, later) in itertools.pairwise(losses):
        done = earlier.time + earlier.duration
        if later.time < done:
            text = f"oil is still being lost from {clock(earlier.time)} to {clock(done)}; make it one loss, or wait"
            yield ("event", place, "action"), f"at {clock(later.time)}: {text}"


@rule(RACE_RULES, *CLOCK, *_EVENTS, "event.duration")
def _lasting(spec: ScenarioSpec) -> Iterator[Found]:
    happenings, end = _happenings(spec), race_pieces(spec)[0][-1].end
    for count, (place, event) in enumerate(happenings, 1):
        if event.name not in _LASTING:
            continue
        done, (lasts, remedy) = event.time + event.duration, _LASTING[event.name]
        later = [other for _, other in happenings[count:] if other.time < done]
        moved = [other for other in later if other.name == CAP and other.direction != _CAP_FOR[event.name]]
        cuts = [(other.time, f"the cap goes {other.direction}") for other in moved]
        cuts += [(other.time, "the next begins") for other in later if other.name == event.name]
        cuts += [(end, "the race ends")] * (done > end)
        if cuts:
            time, what = min(cuts)
            text = f"{lasts} from {clock(event.time)} to {clock(done)}, {what} at {clock(time)}; {remedy}"
            yield ("event", place, "action"), text


@rule(RACE_RULES, *_VOLUMES, "reservoir.compliance", *_PRESSURE, *_TEMPERATURE, *_WATER)
def _air_space(spec: ScenarioSpec) -> Iterator[Found]:
    gas = _gas(spec)
    if gas.headspace_volume < 0.005 * spec.reservoir.volume:
        yield ("reservoir", "fill"), f"leaves no air space at the start, at {show_both(gas.temperature, 'temperature')}"


@rule(RACE_RULES, *_VOLUMES, "reservoir.splash_volume")
def _oil_left(spec: ScenarioSpec) -> Iterator[Found]:
    left = _left(spec)
    if left.volume < _LEAST_SHARE * spec.reservoir.volume:
        yield ("reservoir", "volume"), f"holds too little oil: {_DRAWN_EMPTY}"
    elif left.mass_after_overflow < 0.0:
        yield ("reservoir", "volume"), "is too small for lines and parts: once it has run over they could empty it"


@rule(RACE_RULES, *_VOLUMES, "event.action", "event.fault")
def _hot_mark(spec: ScenarioSpec) -> Iterator[Found]:
    filled = [place for place, event in enumerate(spec.event) if event.fault == TO_THE_MARK]
    if filled and _left(spec).volume >= _LEAST_SHARE * spec.reservoir.volume > _coldest(spec):
        for place in filled:
            yield ("event", place, "fault"), f"leaves too little oil: {_DRAWN_EMPTY}"


@rule(RACE_RULES, *_VOLUMES, "reservoir.splash_volume", *_TEMPERATURE, "event.action", "event.fault", "event.volume")
def _oil_lost(spec: ScenarioSpec) -> Iterator[Found]:
    if all(event.fault != LOST_OIL for event in spec.event):
        return
    whole = _with_an_oil(spec)
    spare = (_coldest(spec) - _LEAST_SHARE * spec.reservoir.volume) * fluid_grade(whole.fluid).density_15
    spare = min(spare, _left(spec).mass_after_overflow)
    for place, event in enumerate(spec.event):
        lost = lost_mass(whole, event)
        if 0.0 <= spare < lost:
            most = math.floor(1e5 * spare * (event.size or 0.0) / lost) / 1e5  # to 10 mL
            given = "" if event.volume is not None else f"missing: the usual {FAULT_SIZES[LOST_OIL].default} "
            allowed = f"lose at most {show_both(most, 'volume')} here" if most > 0.0 else "give the tank more oil"
            yield ("event", place, "volume"), f"{given}is too much oil to lose: {_DRAWN_EMPTY}; {allowed}"
        spare -= lost


def _coldest(spec: ScenarioSpec) -> float:
    """Return what a tank holds when all is cold [m3], filled to its mark hot if that happens."""
    coldest = _left(spec).volume
    if not any(event.fault == TO_THE_MARK for event in spec.event):
        return coldest
    hot = spec.reservoir.model_copy(update={"fill_temperature": _HOTTEST_FILL})
    return min(coldest, _left(spec.model_copy(update={"reservoir": hot})).volume)


@rule(RACE_RULES, *_PRESSURE, *_TEMPERATURE, *_WATER)
def _vapour(spec: ScenarioSpec) -> Iterator[Found]:
    if _gas(spec).air_pressure <= 0.0:
        yield ("start", "headspace_pressure"), "is below the vapour pressure of the wet oil"


@rule(RACE_RULES, *_PRESSURE, "cap.kind", "cap.relief_pressure")
def _start_over_the_cap(spec: ScenarioSpec) -> Iterator[Found]:
    limit = spec.cap.relief_pressure
    if spec.cap.kind == "sealed" and start_over_ambient(spec) > limit:
        crack = show_both(limit, "pressure difference")
        yield ("start", "headspace_pressure"), f"is above the relief pressure of the cap, {crack}"


@rule(RACE_RULES, *_PRESSURE, "reservoir.rating")
def _start_over_the_rating(spec: ScenarioSpec) -> Iterator[Found]:
    limit = spec.reservoir.rating.pascal
    if start_over_ambient(spec) > limit:
        rated = show_both(limit, "pressure difference")
        yield ("start", "headspace_pressure"), f"is above the rating of the tank, {rated} over ambient"
