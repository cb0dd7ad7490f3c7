"""What a specification means for the race: laps, stretches and stops, laid on one clock."""

from __future__ import annotations

import functools

import numpy as np

from ullage.duty.laps import Piece, StopTime, lay_out
from ullage.duty.profile import ACCELERATIONS, Array, Profile, Stretch
from ullage.duty.recording import Recording
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.stretches import lock_load, named_stops, stretches_of


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


@functools.lru_cache(maxsize=8)
def _laid_out(duty: Duty, elevation: float, load_on_the_lock: float) -> tuple[list[Piece], list[StopTime]]:
    recording = duty.recording
    stretches = [_recorded(recording.lap, elevation)] if recording else [*stretches_of(duty, load_on_the_lock)]
    stops = named_stops(duty)
    return lay_out(stretches, stops, duty.laps, elevation, duty.seed or 0, duty.sample_interval)


def _recorded(lap: Recording, start_elevation: float) -> Stretch:
    """Return a recorded lap; what was not recorded is zero, and the elevation that of the start."""

    def channel(name: str, absent: float) -> Array:
        return lap.channels.get(name, np.full(len(lap.time), absent))

    vehicle, engine, load = (channel(name, 0.0) for name in ("vehicle_speed", "engine_speed", "steering_load"))
    accelerations = (channel(name, 0.0) for name in ACCELERATIONS)
    profile = Profile(lap.time, vehicle, engine, load, channel("elevation", start_elevation), *accelerations)
    duration = float(lap.time[-1])
    means = [float(np.trapezoid(values, lap.time)) / duration for values in (vehicle, engine, load)]
    return Stretch(duration, means[0], means[1], means[2], 0.0, float(profile.elevation[-1]), profile)
