"""Rebuild what the circuit holds from the outputs alone, for the balance audit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.kernel.outputs import Row, Rows
from ullage.kernel.params import Parameters
from ullage.kernel.state import RESERVOIR
from ullage.kernel.stores import Masses, densities, node_masses, oil_energy
from ullage.physics import oil, tank
from ullage.physics.air import GAS_CONSTANT, HEAT_CONSTANT_VOLUME

Array = NDArray[np.float64]


@compiled
def _reservoir_mass(p: Parameters, row: Row) -> float:
    """Return the oil in the reservoir that leaves, with bubbles and trapped air, just the volume shown [kg]."""
    temperature = row.oil_temperature[RESERVOIR]
    density = oil.density(temperature, p.density_15)
    over = row.headspace_pressure - oil.REFERENCE_PRESSURE
    yielded = tank.total_compliance(p.tank_compliance, row.oil_mass, temperature, p.density_15)
    whole = tank.expanded_volume(p.tank_volume, p.tank_expansion, temperature)
    bubble = GAS_CONSTANT * temperature / (row.headspace_pressure - row.vapour_pressure)
    in_oil = bubble * (row.free_air_mass + row.trapped_air_mass)
    mass: float = (whole - row.headspace_volume + yielded * over - in_oil) * density
    return mass


@compiled
def _headspace_air(row: Row) -> float:
    """Return the air that fills the headspace at the pressure shown [kg]."""
    air_pressure = row.headspace_pressure - row.vapour_pressure
    return air_pressure * row.headspace_volume / (GAS_CONSTANT * row.headspace_temperature)


@compiled
def rebuild_stores(p: Parameters, rows: Rows, oil_mass: Array, air_mass: Array, energy: Array) -> None:
    """Write oil, air and energy held at every row.

    The march is not asked: masses follow from temperatures, pressure and volume of the air space.

    Parameters
    ----------
    p : record
        Parameters.
    rows : record array
        Rows of `OUTPUT_DTYPE`.
    oil_mass, air_mass : array of shape (rows,)
        Results [kg].
    energy : array of shape (rows,)
        Result, above 0 K [J].
    """
    for i in range(len(rows)):
        row = rows[i]
        density = densities(p, row.oil_temperature)
        full = node_masses(p, row.steering_position, 0.0, row.oil_temperature, density)
        masses = Masses(_reservoir_mass(p, row), full.pump, full.steering_gear, full.cooler)
        air = _headspace_air(row)
        oil_mass[i] = masses.reservoir + masses.pump + masses.steering_gear + masses.cooler
        in_oil = row.dissolved_air_mass + row.free_air_mass + row.trapped_air_mass
        air_mass[i] = air + in_oil
        gas_energy = HEAT_CONSTANT_VOLUME * air * row.headspace_temperature
        energy[i] = gas_energy + oil_energy(p, masses, row.oil_temperature, in_oil)
