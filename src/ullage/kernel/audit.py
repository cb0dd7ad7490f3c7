"""Rebuild what the circuit holds from the outputs alone, for the balance audit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.kernel.outputs import Row, Rows
from ullage.kernel.params import Parameters
from ullage.kernel.state import RESERVOIR
from ullage.kernel.stores import Masses, node_masses, oil_energy
from ullage.physics import oil, tank, water
from ullage.physics.air import GAS_CONSTANT, HEAT_CONSTANT_VOLUME

Array = NDArray[np.float64]


@compiled
def _reservoir_mass(p: Parameters, row: Row) -> float:
    """Return the oil in the reservoir that leaves just the headspace volume shown [kg]."""
    temperature = row.oil_temperature[RESERVOIR]
    density = oil.density(temperature, p.density_15)
    over = row.headspace_pressure - oil.REFERENCE_PRESSURE
    yielded = tank.total_compliance(p.tank_compliance, row.oil_mass, temperature, p.density_15)
    whole = tank.expanded_volume(p.tank_volume, p.tank_expansion, temperature)
    return (whole - row.headspace_volume + yielded * over) * density


@compiled
def _headspace_air(p: Parameters, row: Row) -> float:
    """Return the air that fills the headspace at the pressure shown [kg]."""
    vapour = water.vapour_pressure(row.oil_temperature[RESERVOIR], p.water_content, p.water_saturation)
    return (row.headspace_pressure - vapour) * row.headspace_volume / (GAS_CONSTANT * row.headspace_temperature)


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
        full = node_masses(p, row.steering_position, 0.0, row.oil_temperature)
        masses = Masses(_reservoir_mass(p, row), full.pump, full.steering_gear, full.cooler)
        air = _headspace_air(p, row)
        oil_mass[i] = masses.reservoir + masses.pump + masses.steering_gear + masses.cooler
        air_mass[i] = air + row.dissolved_air_mass
        gas_energy = HEAT_CONSTANT_VOLUME * air * row.headspace_temperature
        energy[i] = gas_energy + oil_energy(p, masses, row.oil_temperature, row.dissolved_air_mass)
