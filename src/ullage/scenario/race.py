"""What a specification means for the race: laps, stretches and stops, laid on one clock."""

from __future__ import annotations

import functools

import numpy as np

from ullage.duty.laps import NamedStop, Piece, StopTime, lay_out
from ullage.duty.profile import ACCELERATIONS, Array, Profile, Spread, Stretch
from ullage.duty.recording import Recording
from ullage.duty.resampling import time_averaged
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.lap_spec import Segment

_SAME_STEP = 1e-6  # clocks of loggers are rounded


def race_pieces(spec: ScenarioSpec) -> tuple[list[Piece], list[StopTime]]:
    """Lay the race of a specification on its clock."""
    return _laid_out(spec.duty, spec.start.elevation)


def pit_stop(spec: ScenarioSpec) -> StopTime | None:
    """Return the stop that a study is of, as the race plans it: the named one, else the first; None without stops."""
    stops = race_pieces(spec)[1]
    return next((stop for stop in stops if spec.pit.stop in (None, stop.name)), None)


def duty_notes(spec: ScenarioSpec) -> tuple[str, ...]:
    """Return what was mended in the files that the race is made from, in sentences."""
    return spec.duty.recording.log.notes if spec.duty.recording else ()


@functools.lru_cache(maxsize=8)
def _laid_out(duty: Duty, elevation: float) -> tuple[list[Piece], list[StopTime]]:
    recording = duty.recording
    stretches = (
        [_recorded(recording.log, elevation, duty.sample_interval)] if recording else [*map(_stretch, duty.segment)]
    )
    stops = [
        NamedStop(
            stop.name,
            stop.after_lap,
            stop.duration,
            stop.engine == "on",
            stop.engine_speed,
            stop.steering_load,
            stop.time,
        )
        for stop in duty.stop
    ]
    return lay_out(stretches, stops, duty.laps, elevation, duty.seed or 0)


def _stretch(segment: Segment) -> Stretch:
    spread = Spread(
        segment.vehicle_speed_spread,
        segment.engine_speed_spread,
        segment.steering_load_spread,
        segment.steering_load_peak or 0.0,
    )
    return Stretch(
        segment.duration or (segment.length or 0.0) / segment.vehicle_speed,
        segment.vehicle_speed,
        segment.engine_speed,
        segment.steering_load,
        segment.steering_position,
        segment.elevation,
        spread if segment.varies else None,
        (segment.forward_acceleration, segment.left_acceleration, segment.upward_acceleration),
    )


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
