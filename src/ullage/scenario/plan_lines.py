"""What the plan of a race holds that a table of segments cannot show, in sentences."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from ullage.duty.laps import Piece
from ullage.errors import printable
from ullage.scenario.circuit import timed_points
from ullage.scenario.driven import driven
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.lap_spec import Change, Segment
from ullage.scenario.race import race_pieces
from ullage.scenario.stretches import loads_of, stop_duration
from ullage.scenario.track_lap import paced_segments
from ullage.units import clock, digits, factor, show

MOST_LINES = 20
_WIDTH, _INDENT = 110, 13
_NAME_WIDTH = 20
_SPEED = {"metric": "km/h", "us": "mph"}
_GEARS_AT = 1000.0  # engine speed at which gears are told [rpm]


def plan_lines(spec: ScenarioSpec, units: str) -> Iterator[str]:
    """Go through the lines of a description that are about the plan; of very many only the first."""
    sentences = [*plan_sentences(spec, units)]
    more = len(sentences) - MOST_LINES
    if more > 0:
        sentences[MOST_LINES:] = [f"and {more} more such lines: --json has them all"]
    rows = [row for sentence in sentences for row in textwrap.wrap(sentence, _WIDTH - _INDENT, subsequent_indent="  ")]
    yield from (f"  {'' if number else 'plan':<{_INDENT - 2}}{row}" for number, row in enumerate(rows))


def plan_sentences(spec: ScenarioSpec, units: str) -> Iterator[str]:
    """Go through what a plan holds beside means and spreads.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    units : str
        "metric" or "us".

    Yields
    ------
    str
        Of each segment its laps, drawn durations, lock holds, water and mud; then laps that differ, stops with drawn
        durations, weather by lap, and gears.
    """
    for place, segment in enumerate(spec.duty.segment):
        name = shown_name(segment.name or f"segment {place + 1}")
        yield from (f"{name}: {fact}" for fact in _segment(spec, place, units))
    yield from _changes(spec.duty)
    yield from _stops(spec.duty)
    yield from _weather(spec, units)
    yield from _gears(spec.duty, units)


def shown_name(name: str) -> str:
    """Return a name of the scenario as it is put on a screen: safe to print, and cut if it is long."""
    text = printable(name)
    return text if len(text) <= _NAME_WIDTH else f"{text[: _NAME_WIDTH - 3]}..."


def _segment(spec: ScenarioSpec, place: int, units: str) -> Iterator[str]:
    segment, laps = spec.duty.segment[place], spec.duty.laps
    pieces = race_pieces(spec)[0]
    if segment.first_lap > 1 or (segment.last_lap or laps) < laps:
        yield f"in {_laps(segment, laps)} only"
    if segment.duration_spread > 0.0:
        drawn = [piece.stretch.duration for piece in pieces if piece.stretch.place == place]
        yield f"lasts {_drawn(segment.duration or 0.0, segment.duration_spread, drawn)}"
    if segment.lock_holds:
        times, load = _times(segment.lock_holds), show(loads_of(spec).on_the_lock, "hydraulic pressure", units)
        yield f"wheel held on the lock {times} in a lap, {segment.lock_hold:g} s on average, at {load}"
    if segment.water_temperature is not None:
        water = show(segment.water_temperature, "temperature", units)
        yield f"water at {water}, tank, pump and gear give off {spec.surroundings.wet_factor:g} times as much heat"
    if segment.mud > 0.0:
        covered = digits(100.0 * segment.mud, 3)
        yield f"{covered} % of the cooler's core covered when it is done, {_washed(pieces, place)}"


def _washed(pieces: Sequence[Piece], place: int) -> str:
    """Say where the mud of a segment is washed off."""
    muddy = next(
        (at for at, piece in enumerate(pieces) if piece.stretch.place == place and piece.finished), len(pieces)
    )
    stops = dict.fromkeys(piece.stop for piece in pieces[muddy:] if piece.stop and piece.stretch.cooler_washed)
    names = [shown_name(stop) for stop in stops if stop]
    if not names:
        return "never washed"
    others = f" and {len(names) - 1} more" if len(names) > 1 else ""
    return f"washed at {names[0]}{others}"


def _changes(duty: Duty) -> Iterator[str]:
    for change in duty.change:
        factors = {
            "vehicle speed": change.vehicle_speed_factor,
            "engine speed": change.engine_speed_factor,
            "steering load": change.steering_load_factor,
        }
        told = ", ".join(f"{name} x {digits(value)}" for name, value in factors.items() if value != 1.0)
        whose = "all segments" if change.segment is None else shown_name(change.segment)
        yield f"{whose}, {_laps(change, duty.laps)}: {told}"


def _stops(duty: Duty) -> Iterator[str]:
    for place, stop in enumerate(duty.stop):
        if stop.duration_spread > 0.0:
            drawn = _drawn(stop.duration, stop.duration_spread, [stop_duration(duty, place)])
            yield f"{shown_name(stop.name)}: lasts {drawn}"


def _weather(spec: ScenarioSpec, units: str) -> Iterator[str]:
    for given, timed in zip(spec.weather.point, timed_points(spec), strict=True):
        if given.lap is not None:
            ambient = show(timed.temperature, "temperature", units)
            yield f"weather: {ambient} at {clock(timed.time or 0.0)}, as lap {given.lap} begins"


def _gears(duty: Duty, units: str) -> Iterator[str]:
    if not duty.gear:
        return
    unit, turns = _SPEED[units], _GEARS_AT * factor("rpm", "rad/s")
    speeds = [turns * gear.vehicle_speed / gear.engine_speed / factor(unit, "m/s") for gear in duty.gear]
    yield f"gears: {', '.join(digits(speed, 3) for speed in speeds)} {unit} at {_GEARS_AT:g} rpm"
    for place, segment in enumerate(paced_segments(duty)):
        box = driven(segment, duty.gear).gearbox
        if box is not None:
            down, up = (show(speed, "rotation", units) for speed in (box.down, box.up))
            yield f"{shown_name(segment.name or f'segment {place + 1}')}: gears go up at {up} and down at {down}"


def _drawn(mean: float, spread: float, drawn: Sequence[float]) -> str:
    """Say how long something takes that is drawn."""
    shortest, longest = clock(min(drawn)), clock(max(drawn))
    found = shortest if shortest == longest else f"{shortest} to {longest}"
    return f"{found}, drawn about {clock(mean)} with a spread of {clock(spread)}"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _laps(item: Segment | Change, laps: int) -> str:
    """Write the laps that a segment or a change names."""
    first, last = item.first_lap, min(item.last_lap or laps, laps)
    return f"lap {first}" if first == last else f"laps {first} to {last}"
