"""Benches stripped to a vessel with some oil: everything but one effect switched off."""

import numpy as np

from support import bench
from ullage.physics import oil


def without_air_in_oil(b):
    b.parameters.bunsen = b.parameters.entrainment = b.parameters.plunging_entrainment = 0.0
    b.state.dissolved_air = 0.0
    return b


def only_the_tank(oil_volume, temperature, changes=None):
    """Return a bench whose lines and parts hold no oil to speak of: a vessel with some oil at a temperature."""
    b = without_air_in_oil(bench(changes))
    for name in ("pump_volume", "gear_volume", "cooler_volume"):
        setattr(b.parameters, name, 1e-12)
    b.parameters.ring_conductance = 0.0
    b.parameters.tank_compliance = 1e-18
    b.parameters.tank_expansion = 0.0
    b.state.oil_mass = oil_volume * oil.density(temperature, b.parameters.density_15)
    return b


def reached(times, falling, value):
    """Return when a falling trace passes a value."""
    return float(np.interp(-value, -falling, times))
