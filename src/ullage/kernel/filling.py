"""How the circuit is filled: oil up to the mark, brought to the start temperature with the cap off, and shut in."""

from __future__ import annotations

from typing import NamedTuple

from ullage.compiled import compiled
from ullage.kernel.params import Parameters
from ullage.kernel.settings import Settings
from ullage.kernel.state import State
from ullage.physics import air, oil, tank, water
from ullage.physics.atmosphere import pressure

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


class StartPressures(NamedTuple):
    """Absolute pressure of the air space and of the ambient air at the start [Pa]."""

    headspace: float
    ambient: float


@compiled
def start_pressures(c: Settings) -> StartPressures:
    """Return the pressures at the start of a scenario with these settings."""
    ambient = pressure(c.start_elevation) + c.weather_pressure_offset
    if c.start_headspace_gauge == 1.0:
        return StartPressures(c.start_headspace_pressure + ambient, ambient)
    return StartPressures(c.start_headspace_pressure, ambient)


@compiled
def _tank_volume(c: Settings, temperature: float) -> float:
    return tank.expanded_volume(c.reservoir_volume, c.reservoir_expansion, temperature)


@compiled
def _passage_mass(c: Settings, temperature: float) -> float:
    """Return the oil [kg] that fills pump, steering gear and cooler at a temperature [K]."""
    volume = c.pump_oil_volume + c.steering_gear_oil_volume + c.cooler_oil_volume
    density = oil.density(temperature, c.fluid_density_15)
    return density * tank.expanded_volume(volume, PASSAGE_EXPANSION, temperature)


@compiled
def _trapped_volume(c: Settings, temperature: float) -> float:
    """Return what the trapped air takes at a temperature and the ambient pressure of the start [m3]."""
    return c.start_trapped_air * temperature / c.reservoir_fill_temperature


@compiled
def mass_at_the_mark(c: Settings) -> float:
    """Return the mass of all oil when the tank stands at its mark, less what trapped air keeps out.

    Parameters
    ----------
    c : record
        Settings.

    Returns
    -------
    float
        Mass [kg], at the fill temperature.
    """
    temperature = c.reservoir_fill_temperature
    volume = c.reservoir_fill * _tank_volume(c, temperature) - c.start_trapped_air
    return volume * oil.density(temperature, c.fluid_density_15) + _passage_mass(c, temperature)


@compiled
def initial_gas(c: Settings) -> InitialGas:
    """Return the air space at the start.

    Parameters
    ----------
    c : record
        Settings.

    Returns
    -------
    InitialGas
        Air trapped in the passages stands in the place of oil there; it counts as if the passages were full and the
        tank held it.
    """
    temperature, density = c.start_temperature, c.fluid_density_15
    oil_mass = mass_at_the_mark(c)
    reservoir = oil_mass - _passage_mass(c, temperature)
    start = start_pressures(c)
    vapour = water.vapour_pressure(temperature, c.fluid_water_content, c.fluid_water_saturation_20)
    compliance = tank.total_compliance(c.reservoir_compliance, oil_mass, temperature, density)
    volume = _tank_volume(c, temperature) - reservoir / oil.density(temperature, density)
    volume += compliance * (start.headspace - oil.REFERENCE_PRESSURE)
    volume -= _trapped_volume(c, temperature) * start.ambient / max(start.headspace - vapour, _LEAST_PRESSURE)
    solubility = air.solubility(temperature, c.fluid_bunsen_coefficient, c.fluid_solubility_slope, density)
    return InitialGas(
        temperature,
        volume,
        start.headspace - vapour,
        oil_mass,
        c.start_air_saturation * solubility * start.ambient * oil_mass,
        start.ambient * c.start_trapped_air / (air.GAS_CONSTANT * c.reservoir_fill_temperature),
    )


@compiled
def oil_left(c: Settings) -> OilLeft:
    """Return what the tank holds when all is cold: lines and parts draw oil as theirs shrinks.

    Parameters
    ----------
    c : record
        Settings.

    Returns
    -------
    OilLeft
        Oil in the tank.
    """
    density = c.fluid_density_15
    needed = _passage_mass(c, _COLDEST)
    volume = (mass_at_the_mark(c) - needed) / oil.density(_COLDEST, density)
    brimful = _tank_volume(c, _HOTTEST) - c.reservoir_splash_volume - _trapped_volume(c, _HOTTEST)
    return OilLeft(volume, brimful * oil.density(_HOTTEST, density) + _passage_mass(c, _HOTTEST) - needed)


@compiled
def level_at(c: Settings, temperature: float) -> float:
    """Return the share of the tank that is oil and trapped air with the cap off.

    Parameters
    ----------
    c : record
        Settings.
    temperature : float
        Temperature of the whole circuit [K].

    Returns
    -------
    float
        Share [1].
    """
    reservoir = mass_at_the_mark(c) - _passage_mass(c, temperature)
    oil_volume = reservoir / oil.density(temperature, c.fluid_density_15)
    return (oil_volume + _trapped_volume(c, temperature)) / _tank_volume(c, temperature)


@compiled
def fill(c: Settings, p: Parameters, s: State) -> None:
    """Set the initial state.

    Parameters
    ----------
    c, p : record
        Settings, and the parameters that `derive` makes of them.
    s : record
        State, zero everywhere; what is in the circuit, whether fan and cooler are on, and the first steps are set.
    """
    gas = initial_gas(c)
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
