"""From the segments and stops of a specification to the stretches and stops that are laid on the race clock."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ullage.duty.draws import STOP_DURATION, drawn_duration
from ullage.duty.gears import engine_speeds
from ullage.duty.laps import NamedStop
from ullage.duty.profile import LockHolds, Spread, Stretch
from ullage.physics.pump import relief_band
from ullage.scenario.driven import Driven, Spell, driven, spells
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.lap_spec import Segment
from ullage.scenario.track_lap import paced_by_track, paced_segments

LOCK_OVER_RELIEF = 1.2  # load of a wheel on the lock, over the setting of the relief valve; own choice


class Loads(NamedTuple):
    """Steering loads that hang on pump and lines [Pa]: of a wheel held on the lock, and from which the relief may open.

    The first is 0 if no segment has a lock hold, the second infinite without a recording: no race hangs on them then.
    """

    on_the_lock: float
    at_the_relief: float


def loads_of(spec: ScenarioSpec) -> Loads:
    """Return the steering loads of a specification that hang on pump and lines."""
    held = any(segment.lock_holds for segment in spec.duty.segment)
    given, relief = spec.duty.full_lock_load, spec.pump.relief_pressure
    lock = LOCK_OVER_RELIEF * relief if given is None else given
    drops = spec.steering_gear.open_centre_drop + spec.return_line.drop + spec.return_line.filter_drop
    opens = relief - relief_band(relief) - drops
    return Loads(lock if held else 0.0, opens if spec.duty.recording else math.inf)


def stretches_of(duty: Duty, load_on_the_lock: float) -> Iterator[Stretch]:
    """Go through the stretches of a race, one for every way in which a segment is driven.

    Parameters
    ----------
    duty : Duty
        The race.
    load_on_the_lock : float
        Steering load of a wheel held on the lock [Pa].

    Yields
    ------
    Stretch
        In the order of a lap.
    """
    streams = _stream_numbers(duty.segment)
    for place, segment in enumerate(paced_segments(duty)):
        numbers = driven(segment, duty.gear)
        by_track = numbers.gearbox is not None and paced_by_track(duty)
        for spell in spells(duty, segment):
            stretch = _stretch(segment, numbers.changed(spell.factors), load_on_the_lock, spell, by_track=by_track)
            yield replace(stretch, place=place, number=streams[place])


def _stream_numbers(segments: Sequence[Segment]) -> list[int]:
    """Return the numbers of the random streams of segments.

    Those of every lap are counted; what is driven in some laps only has a number by its name, and takes none from the
    others: with and without it the rest of the race is the same.
    """
    numbers, always, named = list[int](), 0, Counter[str]()
    for segment in segments:
        if segment.first_lap == 1 and segment.last_lap is None:
            numbers.append(always)
            always += 1
        else:
            numbers.append(int.from_bytes(f"{named[segment.name]} {segment.name}".encode()))
            named[segment.name] += 1
    return numbers


def named_stops(duty: Duty) -> list[NamedStop]:
    """Return the stops of a race, with the durations that are drawn."""
    return [
        NamedStop(
            stop.name,
            stop.after_lap,
            stop_duration(duty, place),
            stop.engine == "on",
            stop.engine_speed,
            stop.steering_load,
            stop.time,
            stop.cooler_washed,
        )
        for place, stop in enumerate(duty.stop)
    ]


def stop_duration(duty: Duty, place: int) -> float:
    """Return how long the truck stands at a stop [s], whatever other stops there are."""
    stop = duty.stop[place]
    name = int.from_bytes(stop.name.encode())
    return drawn_duration(stop.duration, stop.duration_spread, duty.seed or 0, 0, name, STOP_DURATION)


def _stretch(segment: Segment, numbers: Driven, load_on_the_lock: float, spell: Spell, *, by_track: bool) -> Stretch:
    vehicle, engine, load = numbers.vehicle_speed, numbers.engine_speed, numbers.steering_load
    holds = LockHolds(segment.lock_holds, segment.lock_hold, load_on_the_lock) if segment.lock_holds else None
    spread = Spread(vehicle.spread, engine.spread, load.spread, load.peak, numbers.gearbox)
    return Stretch(
        segment.duration or (segment.length or 0.0) / vehicle.mean,
        vehicle.mean,
        _turns(numbers),
        load.load,
        segment.steering_position,
        segment.elevation,
        spread if numbers.varies or by_track else None,
        (segment.forward_acceleration, segment.left_acceleration, segment.upward_acceleration),
        segment.duration_spread,
        holds,
        numbers.ground_roughness,
        segment.water_temperature,
        segment.mud,
        first_lap=spell.first_lap,
        last_lap=spell.last_lap,
    )


def _turns(numbers: Driven) -> float:
    """Return the engine speed at the mean vehicle speed [rad s-1]."""
    if numbers.gearbox is None:
        return numbers.engine_speed.mean
    return float(engine_speeds(np.array([numbers.vehicle_speed.mean]), numbers.gearbox)[0])
