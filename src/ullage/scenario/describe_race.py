"""The part of the screen that says what is driven: race, segments, stops and events."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial

import numpy as np

from ullage.duty.events import FAN_OVERRIDE, RECHARGE, TimedEvent
from ullage.duty.laps import Piece
from ullage.duty.statistics import Distribution, DutyStatistics
from ullage.scenario.duty_facts import race_statistics, segment_names
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.event_spec import FAN_AUTO, FAN_ON
from ullage.scenario.plan_lines import plan_lines, shown_name
from ullage.scenario.race import race_pieces
from ullage.scenario.settings import start_temperature
from ullage.scenario.timed_events import timed_events
from ullage.scenario.track_words import elevation_jump, track_lines
from ullage.units import clock, digits, factor, show

_MOST_SEGMENTS = 15
_APART = 1.0  # lap times closer to each other are alike [s]
_LENGTH = {"metric": "km", "us": "mile"}
_SPEED = {"metric": "km/h", "us": "mph"}
_LOAD = {"metric": "bar", "us": "psi"}


def race_lines(spec: ScenarioSpec, units: str) -> Iterator[str]:
    """Say in lines what is driven: race, recording, ranges, segments, lap times, plan, stops and events by time."""
    shown = partial(show, units=units)
    pieces, stops = race_pieces(spec)
    found = race_statistics(spec)
    laps = "1 lap" if spec.duty.laps == 1 else f"{spec.duty.laps} laps"
    yield (
        f"  race       {laps}, {shown(found.race.distance, 'distance')}, {pieces[-1].end / 3600:.2f} h, "
        f"{_range(pieces, 'elevation', 'length', units)}, start at {shown(start_temperature(spec), 'temperature')}"
    )
    if spec.duty.recording:
        recording = spec.duty.recording
        yield f"  recording  {recording.file}: {len(recording.log.time)} rows, {clock(recording.log.time[-1])}"
        yield from (
            f"             {note}" for note in (*recording.log.notes, *_not_recorded(spec), *_recorded_jump(spec.duty))
        )
    yield from track_lines(spec, units)
    yield (
        f"  duty       vehicle {_range(pieces, 'vehicle_speed', 'speed', units)}, "
        f"engine {_range(pieces, 'engine_speed', 'rotation', units)}, "
        f"steering load {_range(pieces, 'steering_load', 'hydraulic pressure', units)}"
    )
    yield from _table(found, segment_names(spec, found), units)
    yield from _whole(found, units)
    yield from plan_lines(spec, units)
    happenings = [(stop.start, f"stop       {clock(stop.start)} to {clock(stop.end)} {stop.name}") for stop in stops]
    for event in timed_events(spec):
        happenings.append((event.time, f"event      {clock(event.time)} {_done(event, units)}"))
    yield from (f"  {line}" for _, line in sorted(happenings, key=lambda happening: happening[0]))


def _recorded_jump(duty: Duty) -> Iterator[str]:
    """Say how far the recorded end of a lap is off its start; a track has elevations of its own."""
    if duty.recording is not None and duty.track is None and "elevation" in duty.recording.log.channels:
        first, last = duty.recording.log.channels["elevation"][[0, -1]].tolist()
        yield from elevation_jump(duty.laps, first, last)


def _not_recorded(spec: ScenarioSpec) -> Iterator[str]:
    """Say what a recording does not tell, and what is taken in its place."""
    recording, track = spec.duty.recording, spec.duty.track
    if recording is None:
        return
    if recording.steering_load is None:
        yield "no column for steering_load: the wheel is never turned, and the oil stays too cold"
    if recording.vehicle_speed is None and track is None:
        yield "no column for vehicle_speed: the truck stands all the way"
    if recording.elevation is None and track is None:
        yield "no column for elevation: it stays that of the start"


def _done(event: TimedEvent, units: str) -> str:
    if event.name == RECHARGE:
        pressure = show(event.size, "pressure difference", units)
        return f"recharge for {event.duration:g} s, regulator at {pressure} over ambient"
    if event.name == FAN_OVERRIDE:
        return FAN_ON if event.direction == "on" else FAN_AUTO
    return f"{event.name} {event.direction}"


def _range(pieces: Sequence[Piece], channel: str, kind: str, units: str) -> str:
    values = np.concatenate([getattr(piece.profile, channel) for piece in pieces])
    return f"{show(float(values.min()), kind, units)} to {show(float(values.max()), kind, units)}"


def _whole(found: DutyStatistics, units: str) -> Iterator[str]:
    """Say how laps differ, how much is climbed, and how long the truck stands."""
    times = {lap: driven.time for lap, driven in found.laps.items()}
    fastest, slowest = (pick(times, key=times.__getitem__) for pick in (min, max))
    if times[slowest] - times[fastest] >= _APART:
        mean = clock(found.race.time / len(times))
        quick, slow = (f"{clock(times[lap])} (lap {lap})" for lap in (fastest, slowest))
        yield f"  lap times  {quick} to {slow}, {mean} on average, stops left out"
    if found.race.climb + found.race.descent > 0.0:
        up, down = (show(height, "length", units) for height in (found.race.climb, found.race.descent))
        yield f"  climb      {up} up and {down} down in the whole race"
    if found.standing_engine_on + found.standing_engine_off > 0.0:
        running, still = clock(found.standing_engine_on), clock(found.standing_engine_off)
        yield f"  stands     {running} with the engine on, {still} with it off"


def _table(found: DutyStatistics, names: Mapping[int, str], units: str) -> Iterator[str]:
    """Lay out what is driven in each segment and, of several, in a lap."""
    shown = {places: found.segments[places] for places in [*found.segments][:_MOST_SEGMENTS]}
    rows = [*shown.values()]
    titles = [shown_name(names[place]) for place in shown]
    if len(found.segments) > 1:
        rows.append(found.race)
        titles.append("whole lap")
    length, speed, load = _LENGTH[units], _SPEED[units], _LOAD[units]
    pressure = factor(load, "Pa")
    columns = [
        ["", "segment", *titles],
        ["", "laps", *(str(row.laps) for row in rows)],
        ["", "time", *(clock(row.time / row.laps) for row in rows)],
        ["length", length, *(f"{row.distance / row.laps / factor(length, 'm'):.2f}" for row in rows)],
        ["vehicle", speed, *_about([row.vehicle_speed for row in rows], factor(speed, "m/s"))],
        ["engine", "rpm", *_about([row.engine_speed for row in rows], factor("rpm", "rad/s"))],
        ["load", load, *_about([row.steering_load for row in rows], pressure)],
        ["peak", load, *(f"{row.steering_load.highest / pressure:.0f}" for row in rows)],
        ["over", "relief", *(f"{digits(100.0 * row.over_relief, 2)} %" for row in rows)],
    ]
    widths = [max(map(len, column)) for column in columns]
    for first, *rest in zip(*columns, strict=True):
        cells = (f"{cell:>{width}}" for cell, width in zip(rest, widths[1:], strict=True))
        yield f"  {first:<{widths[0]}}  {'  '.join(cells)}".rstrip()
    if len(found.segments) > len(shown):
        yield f"  and {len(found.segments) - len(shown)} more segments: --out DIR writes them all"


def _about(channel: Sequence[Distribution], size: float) -> list[str]:
    """Write means with their spreads, one below the other; a constant has no spread."""
    spreads = ["" if each.spread < 0.5 * size else f" +- {each.spread / size:.0f}" for each in channel]
    width = max(map(len, spreads))
    return [f"{each.mean / size:.0f}{spread:<{width}}" for each, spread in zip(channel, spreads, strict=True)]
