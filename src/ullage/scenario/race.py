"""What a specification means for the race: laps, stretches and stops, laid on one clock."""

from __future__ import annotations

import functools
import math

import numpy as np

from ullage.duty.joining import planned_length
from ullage.duty.laps import Piece, StopTime, by_lap, lay_out
from ullage.duty.profile import ACCELERATIONS, Array, Profile, Stretch
from ullage.duty.recording import Recording
from ullage.duty.resampling import time_averaged
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.stretches import Loads, loads_of, named_stops, stretches_of
from ullage.scenario.track_lap import end_heights, over_track

_SAME_STEP = 1e-6  # clocks of loggers are rounded


def race_pieces(spec: ScenarioSpec) -> tuple[list[Piece], list[StopTime]]:
    """Lay the race of a specification on its clock."""
    return _laid_out(spec.duty, spec.start.elevation, loads_of(spec))


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
def _laid_out(duty: Duty, elevation: float, loads: Loads) -> tuple[list[Piece], list[StopTime]]:
    stretches, laid_over = described(duty, elevation, loads), None
    if duty.track is not None:
        laid_over, (elevation, _) = functools.partial(over_track, duty), end_heights(duty)
    stops = named_stops(duty)
    return lay_out(stretches, stops, duty.laps, elevation, duty.seed or 0, duty.sample_interval, laid_over)


def described(duty: Duty, elevation: float, loads: Loads) -> list[Stretch]:
    """Return the stretches of a race without its track."""
    if duty.recording is not None:
        return [_recorded(duty.recording.log, elevation, duty.sample_interval, loads.at_the_relief)]
    return [*stretches_of(duty, loads.on_the_lock)]


def planned_lengths(duty: Duty) -> list[float]:
    """Return how far each lap goes as it is described, without its track [m]."""
    laps = by_lap(described(duty, 0.0, Loads(0.0, math.inf)), duty.laps)[1:]
    return [planned_length([stretch for _, stretch in lap]) for lap in laps]


def _recorded(lap: Recording, start_elevation: float, sample_interval: float, at_the_relief: float) -> Stretch:
    """Return a recorded lap; what was not recorded is zero, and the elevation that of the start.

    Rows closer together than the samples become fewer knots, with the same integrals.
    """
    time = recorded_knots(lap, sample_interval, at_the_relief)

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


def recorded_knots(lap: Recording, sample_interval: float, at_the_relief: float) -> Array:
    """Return the knots of a recorded lap.

    Parameters
    ----------
    lap : Recording
        The lap.
    sample_interval : float
        Step of the samples [s].
    at_the_relief : float
        Steering load from which the relief valve may open [Pa].

    Returns
    -------
    array
        Times [s]: its rows, or the samples and the end if rows are closer together. For half a sample before and after
        the load crosses that load the rows stay, as the heat of a valve that opens is not that of the mean load.
    """
    if lap.usual_step >= sample_interval * (1.0 - _SAME_STEP):
        return lap.time
    end = float(lap.time[-1])
    samples = np.append(np.arange(int(end / sample_interval - _SAME_STEP) + 1) * sample_interval, end)
    if "steering_load" not in lap.channels:
        return samples
    crossings = lap.time[np.flatnonzero(np.diff(lap.channels["steering_load"] > at_the_relief))]
    if len(crossings) == 0:
        return samples
    after = np.clip(np.searchsorted(crossings, lap.time), 1, max(len(crossings) - 1, 1))
    nearest = [np.abs(lap.time - crossings[np.minimum(side, len(crossings) - 1)]) for side in (after - 1, after)]
    return np.union1d(samples, lap.time[np.minimum(*nearest) <= 0.5 * sample_interval])


def lost_in_samples(spec: ScenarioSpec) -> float:
    """Return the share of load times engine speed that the samples of a recorded lap lose; below 0 if they gain."""
    recording = spec.duty.recording
    profile = race_pieces(spec)[0][0].stretch.variation
    if recording is None or "steering_load" not in recording.log.channels or not isinstance(profile, Profile):
        return 0.0
    rows = recording.log.channels
    logged = _integral(recording.log.time, rows["steering_load"], rows["engine_speed"])
    seen = _integral(profile.time, profile.steering_load, profile.engine_speed)
    return 1.0 - seen / logged if logged > 0.0 else 0.0


def _integral(time: Array, one: Array, other: Array) -> float:
    """Return the integral of a product of two channels that are linear between rows."""
    ends = one[:-1] * other[:-1] + one[1:] * other[1:]
    return float(np.sum(np.diff(time) * (2.0 * ends + one[:-1] * other[1:] + one[1:] * other[:-1])) / 6.0)
