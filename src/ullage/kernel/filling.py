"""How the circuit is filled: oil up to the mark, brought to the start temperature with the cap off, and shut in."""

from __future__ import annotations

from typing import NamedTuple

from ullage.compiled import compiled, merged
from ullage.kernel.params import Parameters
from ullage.kernel.settings import Settings
from ullage.kernel.state import State
from ullage.physics import air, oil, tank, water
from ullage.physics.atmosphere import pressure

PASSAGE_EXPANSION = 4e-5

_COLDEST = 233.15
_HOTTEST = oil.HIGHEST_TEMPERATURE
_LEAST_PRESSURE = 1.0  # of the air at the start; what is below is refused [Pa]


class Filling(NamedTuple):
    """The settings that say what is in the circuit at the start, with their names and units."""

    fluid_density_15: float
    fluid_bunsen_coefficient: float
    fluid_solubility_slope: float
    fluid_water_content: float
    fluid_water_saturation_20: float
    reservoir_volume: float
    reservoir_fill: float
    reservoir_fill_temperature: float
    reservoir_expansion: float
    reservoir_compliance: float
    reservoir_splash_volume: float
    pump_oil_volume: float
    steering_gear_oil_volume: float
    cooler_oil_volume: float
    weather_pressure_offset: float
    start_temperature: float
    start_elevation: float
    start_headspace_pressure: float
    start_air_saturation: float
    start_trapped_air: float
    start_headspace_gauge: float


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


@compiled
def filling_of(c: Settings) -> Filling:
    """Return those of the settings that say what is in the circuit at the start."""
    return Filling(
        c.fluid_density_15,
        c.fluid_bunsen_coefficient,
        c.fluid_solubility_slope,
        c.fluid_water_content,
        c.fluid_water_saturation_20,
        c.reservoir_volume,
        c.reservoir_fill,
        c.reservoir_fill_temperature,
        c.reservoir_expansion,
        c.reservoir_compliance,
        c.reservoir_splash_volume,
        c.pump_oil_volume,
        c.steering_gear_oil_volume,
        c.cooler_oil_volume,
        c.weather_pressure_offset,
        c.start_temperature,
        c.start_elevation,
        c.start_headspace_pressure,
        c.start_air_saturation,
        c.start_trapped_air,
        c.start_headspace_gauge,
    )


@compiled
def _tank_volume(x: Filling, temperature: float) -> float:
    return tank.expanded_volume(x.reservoir_volume, x.reservoir_expansion, temperature)


@compiled
def _passage_mass(x: Filling, temperature: float) -> float:
    """Return the oil [kg] that fills pump, steering gear and cooler at a temperature [K]."""
    volume = x.pump_oil_volume + x.steering_gear_oil_volume + x.cooler_oil_volume
    density = oil.density(temperature, x.fluid_density_15)
    return density * tank.expanded_volume(volume, PASSAGE_EXPANSION, temperature)


@compiled
def _trapped_volume(x: Filling, temperature: float) -> float:
    """Return what the trapped air takes at a temperature and the ambient pressure of the start [m3]."""
    return x.start_trapped_air * temperature / x.reservoir_fill_temperature


@compiled
def _mass_at_the_mark(x: Filling) -> float:
    """Return the mass of all oil [kg] when the tank stands at its mark, less what trapped air keeps out."""
    temperature = x.reservoir_fill_temperature
    volume = x.reservoir_fill * _tank_volume(x, temperature) - x.start_trapped_air
    return volume * oil.density(temperature, x.fluid_density_15) + _passage_mass(x, temperature)


@compiled
def initial_gas(x: Filling) -> InitialGas:
    """Return the air space at the start.

    Parameters
    ----------
    x : Filling
        What is filled in.

    Returns
    -------
    InitialGas
        Air trapped in the passages stands in the place of oil there; it counts as if the passages were full and the
        tank held it.
    """
    temperature, density = x.start_temperature, x.fluid_density_15
    oil_mass = _mass_at_the_mark(x)
    reservoir = oil_mass - _passage_mass(x, temperature)
    ambient = pressure(x.start_elevation) + x.weather_pressure_offset
    absolute = x.start_headspace_pressure + ambient if x.start_headspace_gauge == 1.0 else x.start_headspace_pressure
    vapour = water.vapour_pressure(temperature, x.fluid_water_content, x.fluid_water_saturation_20)
    compliance = tank.total_compliance(x.reservoir_compliance, oil_mass, temperature, density)
    volume = _tank_volume(x, temperature) - reservoir / oil.density(temperature, density)
    volume += compliance * (absolute - oil.REFERENCE_PRESSURE)
    volume -= _trapped_volume(x, temperature) * ambient / max(absolute - vapour, _LEAST_PRESSURE)
    solubility = air.solubility(temperature, x.fluid_bunsen_coefficient, x.fluid_solubility_slope, density)
    return InitialGas(
        temperature,
        volume,
        absolute - vapour,
        oil_mass,
        x.start_air_saturation * solubility * ambient * oil_mass,
        ambient * x.start_trapped_air / (air.GAS_CONSTANT * x.reservoir_fill_temperature),
    )


@compiled
def oil_left(x: Filling) -> OilLeft:
    """Return what the tank holds when all is cold: lines and parts draw oil as theirs shrinks.

    Parameters
    ----------
    x : Filling
        What is filled in.

    Returns
    -------
    OilLeft
        Oil in the tank.
    """
    density = x.fluid_density_15
    needed = _passage_mass(x, _COLDEST)
    volume = (_mass_at_the_mark(x) - needed) / oil.density(_COLDEST, density)
    brimful = _tank_volume(x, _HOTTEST) - x.reservoir_splash_volume - _trapped_volume(x, _HOTTEST)
    return OilLeft(volume, brimful * oil.density(_HOTTEST, density) + _passage_mass(x, _HOTTEST) - needed)


@compiled
def level_at(x: Filling, temperature: float) -> float:
    """Return the share of the tank that is oil and trapped air with the cap off.

    Parameters
    ----------
    x : Filling
        What is filled in.
    temperature : float
        Temperature of the whole circuit [K].

    Returns
    -------
    float
        Share [1].
    """
    reservoir = _mass_at_the_mark(x) - _passage_mass(x, temperature)
    oil_volume = reservoir / oil.density(temperature, x.fluid_density_15)
    return (oil_volume + _trapped_volume(x, temperature)) / _tank_volume(x, temperature)


@merged
def fill(gas: InitialGas, p: Parameters, s: State) -> None:
    """Set the initial state.

    Parameters
    ----------
    gas : InitialGas
        The air space at the start.
    p : record
        Parameters.
    s : record
        State, zero everywhere; what is in the circuit, whether fan and cooler are on, and the first steps are set.
    """
    for node in range(len(s.temperature)):
        s.temperature[node] = gas.temperature
    s.air_heat = gas.air_pressure * gas.headspace_volume / air.GAS_CONSTANT
    s.air_mass = s.air_heat / gas.temperature
    s.dissolved_air = gas.dissolved_air
    s.trapped_air = gas.trapped_air
    s.oil_mass = gas.oil_mass
    s.cap_on = 1
    s.cooler_open = 1 if gas.temperature >= p.thermostat_open else 0
    s.fan_called = 1 if gas.temperature >= p.fan_on else 0
    s.oil_step = 1.0
    s.gas_step = 1e-3
