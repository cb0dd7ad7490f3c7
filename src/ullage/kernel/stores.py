"""What the circuit holds: oil in the nodes, the volume above it, energy."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.kernel.params import Parameters
from ullage.kernel.state import COOLER, PUMP, RESERVOIR, STEERING_GEAR
from ullage.physics import oil, tank
from ullage.physics.air import HEAT_CONSTANT_PRESSURE

Array = NDArray[np.float64]


class Masses(NamedTuple):
    """Oil in the four nodes [kg], at reference pressure."""

    reservoir: float
    pump: float
    steering_gear: float
    cooler: float


class Densities(NamedTuple):
    """Densities of the oil in the full nodes [kg m-3]."""

    pump: float
    steering_gear: float
    cooler: float


@compiled
def densities(p: Parameters, temperature: Array) -> Densities:
    """Return the densities of the oil in the full nodes at their temperatures [K]."""
    return Densities(
        oil.density(temperature[PUMP], p.density_15),
        oil.density(temperature[STEERING_GEAR], p.density_15),
        oil.density(temperature[COOLER], p.density_15),
    )


@compiled
def node_masses(
    p: Parameters, steering_position: float, oil_mass: float, temperature: Array, density: Densities
) -> Masses:
    """Return the oil in each node; the three full nodes expand, the reservoir takes the rest.

    Parameters
    ----------
    p : record
        Parameters.
    steering_position : float
        Ram position, -1 to 1 [1]; only a ram with unequal areas changes volume with it.
    oil_mass : float
        Oil in the whole circuit [kg].
    temperature : array of shape (4,)
        Oil temperatures [K].
    density : Densities
        What `densities` finds at these temperatures.

    Returns
    -------
    Masses
        Masses at reference pressure [kg].
    """
    ram = 0.5 * p.rod_volume * steering_position
    in_pump = density.pump * tank.expanded_volume(p.pump_volume, p.passage_expansion, temperature[PUMP])
    in_gear = density.steering_gear * tank.expanded_volume(
        p.gear_volume + ram, p.passage_expansion, temperature[STEERING_GEAR]
    )
    in_cooler = density.cooler * tank.expanded_volume(p.cooler_volume, p.passage_expansion, temperature[COOLER])
    return Masses(oil_mass - in_pump - in_gear - in_cooler, in_pump, in_gear, in_cooler)


@compiled
def mass_rate(p: Parameters, mass: float, temperature: float, temperature_rate: float) -> float:
    """Return how fast the oil in a full node changes [kg s-1], negative while it warms up and pushes oil out."""
    grown = tank.expanded_volume(1.0, p.passage_expansion, temperature)
    expansion = oil.expansion_coefficient(temperature, p.density_15)
    return mass * temperature_rate * (p.passage_expansion / grown - expansion)


@compiled
def headspace_volume(p: Parameters, reservoir_mass: float, reservoir_temperature: float, density: float) -> float:
    """Return the volume above the oil at reference pressure; negative when the tank is over-full.

    Parameters
    ----------
    p : record
        Parameters.
    reservoir_mass : float
        Oil in the reservoir [kg].
    reservoir_temperature : float
        Its temperature [K], and the wall's.
    density : float
        Density of the oil there [kg m-3].

    Returns
    -------
    float
        Volume [m3].
    """
    whole = tank.expanded_volume(p.tank_volume, p.tank_expansion, reservoir_temperature)
    return whole - reservoir_mass / density


@compiled
def oil_energy(p: Parameters, masses: Masses, temperature: Array, air: float) -> float:
    """Return the energy of oil, metal and the air within the oil above 0 K.

    Parameters
    ----------
    p : record
        Parameters.
    masses : Masses
        Oil in the nodes [kg].
    temperature : array of shape (4,)
        Temperatures [K].
    air : float
        Dissolved and free air [kg]; it lives at the reservoir's temperature.

    Returns
    -------
    float
        Energy [J].
    """
    full = (
        masses.pump * oil.enthalpy(temperature[PUMP], p.heat_constant, p.heat_slope)
        + masses.steering_gear * oil.enthalpy(temperature[STEERING_GEAR], p.heat_constant, p.heat_slope)
        + masses.cooler * oil.enthalpy(temperature[COOLER], p.heat_constant, p.heat_slope)
        + p.pump_metal * temperature[PUMP]
        + p.gear_metal * temperature[STEERING_GEAR]
        + p.cooler_metal * temperature[COOLER]
    )
    reservoir = masses.reservoir * oil.enthalpy(temperature[RESERVOIR], p.heat_constant, p.heat_slope)
    total: float = full + reservoir + (p.tank_metal + HEAT_CONSTANT_PRESSURE * air) * temperature[RESERVOIR]
    return total


@compiled
def reservoir_temperature(p: Parameters, masses: Masses, temperature: Array, air: float, energy: float) -> float:
    """Return the reservoir temperature at which `oil_energy` has a given value, the other nodes being known.

    Parameters
    ----------
    p : record
        Parameters.
    masses : Masses
        Oil in the nodes [kg].
    temperature : array of shape (4,)
        Temperatures [K]; that of the reservoir is only a starting point.
    air : float
        Dissolved and free air [kg].
    energy : float
        Energy wanted [J].

    Returns
    -------
    float
        Temperature [K].
    """
    capacity = p.tank_metal + HEAT_CONSTANT_PRESSURE * air
    here = temperature[RESERVOIR]
    now = masses.reservoir * oil.enthalpy(here, p.heat_constant, p.heat_slope) + capacity * here
    share = energy - oil_energy(p, masses, temperature, air) + now
    return oil.temperature_from_energy(
        share, masses.reservoir * p.heat_constant + capacity, masses.reservoir * p.heat_slope
    )
