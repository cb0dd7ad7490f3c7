"""What a specification means for the circuit: oil grade, weather, and the air space at the start."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from ullage.duty.race_inputs import Weather
from ullage.physics import air, oil, tank, water
from ullage.physics.atmosphere import pressure
from ullage.scenario.duty_spec import ScenarioSpec, WeatherPoint
from ullage.scenario.fields import Level
from ullage.scenario.presets import GRADES, Grade
from ullage.scenario.race import lap_start
from ullage.scenario.spec import Cap, Fluid

PASSAGE_EXPANSION = 4e-5

_COLDEST = 233.15
_HOTTEST = oil.HIGHEST_TEMPERATURE
_LEAST_PRESSURE = 1.0  # of the air at the start; what is below is refused [Pa]


class InitialGas(NamedTuple):
    """The air space when the cap was shut, SI units."""

    temperature: float
    headspace_volume: float
    air_pressure: float
    oil_mass: float
    dissolved_air: float
    trapped_air: float


class OilLeft(NamedTuple):
    """Oil in the tank with the whole circuit as cold as the model goes.

    `volume` [m3] is that of a tank filled as the scenario says; `mass_after_overflow` [kg] that of one that was
    brimful where the density law ends and got cold.
    """

    volume: float
    mass_after_overflow: float


def fluid_grade(fluid: Fluid) -> Grade:
    """Return viscosities and density of the oil: its own values, else those of its preset."""
    base = GRADES[fluid.preset] if fluid.preset else Grade(0.0, 0.0, 0.0)
    return Grade(
        fluid.viscosity_40 or base.viscosity_40,
        fluid.viscosity_100 or base.viscosity_100,
        fluid.density_15 or base.density_15,
    )


def start_temperature(spec: ScenarioSpec) -> float:
    """Return the temperature of oil, metal and air space at the start [K]: as given, else ambient."""
    if spec.start.temperature is not None:
        return spec.start.temperature
    points = spec.weather.point
    return points[0].temperature if points else spec.weather.temperature


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
    density = fluid_grade(spec.fluid).density_15
    temperature = start_temperature(spec)
    oil_mass = _mass_at_the_mark(spec)
    reservoir = oil_mass - _full_mass(spec, temperature)
    absolute, ambient = _start_pressures(spec)
    vapour = water.vapour_pressure(temperature, spec.fluid.water_content, spec.fluid.water_saturation_20)
    compliance = tank.total_compliance(spec.reservoir.compliance, oil_mass, temperature, density)
    volume = _tank(spec, temperature) - reservoir / oil.density(temperature, density)
    volume += compliance * (absolute - oil.REFERENCE_PRESSURE)
    volume -= _trapped_volume(spec, temperature) * ambient / max(absolute - vapour, _LEAST_PRESSURE)
    solubility = air.solubility(temperature, spec.fluid.bunsen_coefficient, spec.fluid.solubility_slope, density)
    return InitialGas(
        temperature,
        volume,
        absolute - vapour,
        oil_mass,
        spec.start.air_saturation * solubility * ambient * oil_mass,
        ambient * spec.start.trapped_air / (air.GAS_CONSTANT * spec.reservoir.fill_temperature),
    )


def _start_pressures(spec: ScenarioSpec) -> tuple[float, float]:
    """Return the pressure of the air space and that of the ambient air at the start [Pa]."""
    ambient = pressure(spec.start.elevation) + spec.weather.pressure_offset
    level = spec.start.headspace_pressure or Level(0.0, gauge=True)
    return level.absolute(ambient), ambient


def start_over_ambient(spec: ScenarioSpec) -> float:
    """Return the pressure of the air space over ambient at the start [Pa]."""
    absolute, ambient = _start_pressures(spec)
    return absolute - ambient


def oil_left(spec: ScenarioSpec) -> OilLeft:
    """Return what the tank holds when all is cold: lines and parts draw oil as theirs shrinks."""
    density = fluid_grade(spec.fluid).density_15
    needed = _full_mass(spec, _COLDEST)
    volume = (_mass_at_the_mark(spec) - needed) / oil.density(_COLDEST, density)
    brimful = _tank(spec, _HOTTEST) - spec.reservoir.splash_volume - _trapped_volume(spec, _HOTTEST)
    return OilLeft(volume, brimful * oil.density(_HOTTEST, density) + _full_mass(spec, _HOTTEST) - needed)


def level_at(spec: ScenarioSpec, temperature: float) -> float:
    """Return the share of the tank that is oil with the whole circuit at one temperature [K] and the cap off."""
    density = oil.density(temperature, fluid_grade(spec.fluid).density_15)
    reservoir = initial_gas(spec).oil_mass - _full_mass(spec, temperature)
    return (reservoir / density + _trapped_volume(spec, temperature)) / _tank(spec, temperature)


def hole_area(cap: Cap, diameter: float) -> float:
    """Return the flow area [m2] of a round hole in the cap or its seal."""
    return cap.discharge_coefficient * 0.25 * math.pi * diameter * diameter


def _mass_at_the_mark(spec: ScenarioSpec) -> float:
    """Return the mass of all oil when the tank stands at its mark, less what trapped air keeps out."""
    temperature = spec.reservoir.fill_temperature
    volume = spec.reservoir.fill * _tank(spec, temperature) - spec.start.trapped_air
    return volume * oil.density(temperature, fluid_grade(spec.fluid).density_15) + _full_mass(spec, temperature)


def _trapped_volume(spec: ScenarioSpec, temperature: float) -> float:
    """Return what the trapped air takes at a temperature and the ambient pressure of the start [m3]."""
    return spec.start.trapped_air * temperature / spec.reservoir.fill_temperature


def _tank(spec: ScenarioSpec, temperature: float) -> float:
    return tank.expanded_volume(spec.reservoir.volume, spec.reservoir.expansion, temperature)


def _full_mass(spec: ScenarioSpec, temperature: float) -> float:
    volume = spec.pump.oil_volume + spec.steering_gear.oil_volume + spec.cooler.oil_volume
    density = oil.density(temperature, fluid_grade(spec.fluid).density_15)
    return density * tank.expanded_volume(volume, PASSAGE_EXPANSION, temperature)
