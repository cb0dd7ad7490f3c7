"""What a specification means for the circuit: weather, and the air space at the start."""

from __future__ import annotations

import numpy as np

from ullage.duty.race_inputs import Weather
from ullage.kernel import derive, filling
from ullage.kernel.filling import InitialGas, OilLeft
from ullage.physics.atmosphere import pressure
from ullage.scenario.duty_spec import ScenarioSpec, WeatherPoint
from ullage.scenario.race import lap_start
from ullage.scenario.settings import filling_of, start_level
from ullage.scenario.spec import Cap


def weather_of(spec: ScenarioSpec) -> Weather:
    """Return the weather of a specification; without points the temperature stays the same."""
    points = timed_points(spec)
    if not points:
        return Weather((0.0,), (spec.weather.temperature,), spec.weather.pressure_offset)
    times = tuple(point.time or 0.0 for point in points)
    return Weather(times, tuple(point.temperature for point in points), spec.weather.pressure_offset)


def timed_points(spec: ScenarioSpec) -> tuple[WeatherPoint, ...]:
    """Return the points of the weather with their race times, also those that are written with a lap."""
    return tuple(
        point.model_copy(update={"time": lap_start(spec, point.lap), "lap": None}) if point.lap is not None else point
        for point in spec.weather.point
    )


def ambient_temperature(spec: ScenarioSpec, time: float) -> float:
    """Return the ambient temperature [K] at a race time [s]."""
    weather = weather_of(spec)
    return float(np.interp(time, weather.times, weather.temperatures))


def initial_gas(spec: ScenarioSpec) -> InitialGas:
    """Return the air space at the start of a race.

    Parameters
    ----------
    spec : ScenarioSpec
        A specification.

    Returns
    -------
    InitialGas
        The oil is filled to the mark at the fill temperature, brought to the start temperature with the cap off, and
        shut in. Air trapped in the passages stands in the place of oil there; it counts as if the passages were full
        and the tank held it.
    """
    return filling.initial_gas(filling_of(spec))


def start_over_ambient(spec: ScenarioSpec) -> float:
    """Return the pressure of the air space over ambient at the start [Pa]."""
    ambient = pressure(spec.start.elevation) + spec.weather.pressure_offset
    return start_level(spec).absolute(ambient) - ambient


def oil_left(spec: ScenarioSpec) -> OilLeft:
    """Return what the tank holds when all is cold: lines and parts draw oil as theirs shrinks."""
    return filling.oil_left(filling_of(spec))


def level_at(spec: ScenarioSpec, temperature: float) -> float:
    """Return the share of the tank that is oil with the whole circuit at one temperature [K] and the cap off."""
    return filling.level_at(filling_of(spec), temperature)


def hole_area(cap: Cap, diameter: float) -> float:
    """Return the flow area [m2] of a round hole in the cap or its seal."""
    return derive.hole_area(cap.discharge_coefficient, diameter)
