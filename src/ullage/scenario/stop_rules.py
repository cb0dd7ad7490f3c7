"""Rules on the stops: what they are called, and where in the race they are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ullage.duty.laps import StopTime
from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.race import race_pieces
from ullage.units import clock

STOP_RULES: list[Rule] = []
STOP_TIME_RULES: list[Rule] = []  # on a race whose stops are right otherwise

_DRIVEN = (
    *("name", "first_lap", "last_lap", "length", "duration", "duration_spread", "surface", "steering"),
    *("vehicle_speed", "vehicle_speed_spread", "vehicle_speed_low", "vehicle_speed_high"),
    *("engine_speed", "engine_speed_spread", "engine_speed_low", "engine_speed_high"),
    *("steering_load", "steering_load_spread", "steering_load_peak", "lock_holds", "lock_hold"),
)
_STANDING = ("name", "after_lap", "time", "duration", "duration_spread")
CLOCK = (
    *("duty.laps", "duty.seed", "duty.sample_interval", "duty.recording", "duty.track", "duty.gear", "duty.change"),
    *(f"duty.segment.{key}" for key in _DRIVEN),
    *(f"duty.stop.{key}" for key in _STANDING),
)

_NEARLY = 1e-5  # more than what counts as one moment [s]


@rule(STOP_RULES, "duty.stop.name", each="duty.stop")
def _stop_names(spec: ScenarioSpec) -> Iterator[Found]:
    counts = Counter(stop.name for stop in spec.duty.stop)
    for place, stop in enumerate(spec.duty.stop):
        if counts[stop.name] > 1:
            yield ("duty", "stop", place, "name"), "is used twice"


@rule(STOP_RULES, "duty.laps", "duty.stop.after_lap", each="duty.stop")
def _stop_laps(spec: ScenarioSpec) -> Iterator[Found]:
    for place, stop in enumerate(spec.duty.stop):
        if stop.after_lap is not None and stop.after_lap > spec.duty.laps:
            yield ("duty", "stop", place, "after_lap"), f"is after the end: the race has {spec.duty.laps} laps"


@rule(STOP_RULES, "duty.stop.after_lap", "duty.stop.time", each="duty.stop")
def _place(spec: ScenarioSpec) -> Iterator[Found]:
    for place, stop in enumerate(spec.duty.stop):
        if (stop.after_lap is None) == (stop.time is None):
            yield ("duty", "stop", place), "give either after_lap or time"


@rule(STOP_TIME_RULES, *CLOCK)
def _stop_times(spec: ScenarioSpec) -> Iterator[Found]:
    for place, text in misplaced_stops(spec):
        yield ("duty", "stop", place, "time"), text


def misplaced_stops(spec: ScenarioSpec) -> Iterator[tuple[int, str]]:
    """Go through the stops at whose time the truck cannot come to a stand; say why.

    Parameters
    ----------
    spec : ScenarioSpec
        A specification; every stop has a lap or a time, and a name of its own.

    Yields
    ------
    tuple
        Number of the stop, and a sentence.
    """
    pieces, stops = race_pieces(spec)
    begins = {stop.name: stop.start for stop in stops}
    timed = [stop.name for stop in spec.duty.stop if stop.time is not None]
    end = next(piece.end for piece in reversed(pieces) if piece.stop not in timed)
    for place, stop in enumerate(spec.duty.stop):
        if stop.time is None:
            continue
        if stop.time > end - _NEARLY:
            yield place, f"is not before the end of the race at {clock(end)}: give an earlier time or a longer race"
        elif begins[stop.name] > stop.time + _NEARLY:
            yield place, _in_another(stop.time, stops)


def _in_another(time: float, stops: list[StopTime]) -> str:
    other = next(stop for stop in stops if stop.start - _NEARLY <= time < stop.end)
    lasts = f"which lasts from {clock(other.start)} to {clock(other.end)}"
    return f"falls into the stop '{other.name}', {lasts}: give a time outside it, or make one stop of the two"
