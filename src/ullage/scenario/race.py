"""What a specification means for the race: laps, stretches and stops, laid on one clock."""

from __future__ import annotations

import functools

import numpy as np

from ullage.duty.joining import planned_length
from ullage.duty.laps import Piece, StopTime, by_lap, lay_out
from ullage.duty.profile import ACCELERATIONS, Array, Profile, Stretch
from ullage.duty.recording import Recording
from ullage.duty.resampling import time_averaged
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.stretches import lock_load, named_stops, stretches_of
from ullage.scenario.track_lap import end_heights, over_track

_SAME_STEP = 1e-6  # clocks of loggers are rounded


def race_pieces(spec: ScenarioSpec) -> tuple[list[Piece], list[StopTime]]:
    """Lay the race of a specification on its clock."""
    return _laid_out(spec.duty, spec.start.elevation, lock_load(spec))


def pit_stop(spec: ScenarioSpec) -> StopTime | None:
    """Return the stop that a study is of, as the race plans it: the named one, else the first; None without stops."""
    stops = race_pieces(spec)[1]
    return next((stop for stop in stops if spec.pit.stop in (None, stop.name)), None)


def lap_start(spec: ScenarioSpec, lap: int) -> float:
    """Return the race time at which a lap begins [s], after the stops before it; the end of the race if it has none."""
    pieces, _ = race_pieces(spec)
    return next((piece.start for piece in pieces if piece.lap == lap and piece.stop is None), pieces[-1].end)


def duty_notes(spec: ScenarioSpec) -> tuple[str, ...]:
    """Return what was mended in the files that the race is made from, in sentences."""
    recording, track = spec.duty.recording, spec.duty.track
    return (*(recording.log.notes if recording else ()), *(track.course.notes if track else ()))


@functools.lru_cache(maxsize=8)
def _laid_out(duty: Duty, elevation: float, load_on_the_lock: float) -> tuple[list[Piece], list[StopTime]]:
    stretches, laid_over = described(duty, elevation, load_on_the_lock), None
    if duty.track is not None:
        laid_over, (elevation, _) = functools.partial(over_track, duty), end_heights(duty)
    stops = named_stops(duty)
    return lay_out(stretches, stops, duty.laps, elevation, duty.seed or 0, duty.sample_interval, laid_over)


def described(duty: Duty, elevation: float, load_on_the_lock: float) -> list[Stretch]:
    """Return the stretches of a race without its track."""
    if duty.recording is not None:
        return [_recorded(duty.recording.log, elevation, duty.sample_interval)]
    return [*stretches_of(duty, load_on_the_lock)]


def planned_lengths(duty: Duty) -> list[float]:
    """Return how far each lap goes as it is described, without its track [m]."""
    laps = by_lap(described(duty, 0.0, 0.0), duty.laps)[1:]
    return [planned_length([stretch for _, stretch in lap]) for lap in laps]


def _recorded(lap: Recording, start_elevation: float, sample_interval: float) -> Stretch:
    """Return a recorded lap; what was not recorded is zero, and the elevation that of the start.

    Rows closer together than the samples become knots at the sample interval, with the same integrals.
    """
    time = recorded_knots(lap, sample_interval)

    def channel(name: str, absent: float) -> Array:
        if name not in lap.channels:
            return np.full(len(time), absent)
        values = lap.channels[name]
        return values if time is lap.time else time_averaged(lap.time, values, time)

    vehicle, engine, load = (channel(name, 0.0) for name in ("vehicle_speed", "engine_speed", "steering_load"))
    accelerations = (channel(name, 0.0) for name in ACCELERATIONS)
    profile = Profile(time, vehicle, engine, load, channel("elevation", start_elevation), *accelerations)
    duration = float(time[-1])
    means = [float(np.trapezoid(values, time)) / duration for values in (vehicle, engine, load)]
    return Stretch(duration, means[0], means[1], means[2], 0.0, float(profile.elevation[-1]), profile)


def recorded_knots(lap: Recording, sample_interval: float) -> Array:
    """Return the knots of a recorded lap [s]: its rows, or samples and the end if rows are closer together."""
    if lap.usual_step >= sample_interval * (1.0 - _SAME_STEP):
        return lap.time
    end = float(lap.time[-1])
    return np.append(np.arange(int(end / sample_interval - _SAME_STEP) + 1) * sample_interval, end)
