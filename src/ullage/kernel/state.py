"""The state of one race at one instant, as a record: physical state, modes, quadratures and step memory.

A race can be stopped, its record copied, and marched on with the same result to the last bit.
"""

from __future__ import annotations

from typing import Any

import numpy as np

RESERVOIR, PUMP, STEERING_GEAR, COOLER = 0, 1, 2, 3
NODES = ("reservoir", "pump", "steering_gear", "cooler")

QUADRATURES = (
    "shaft_work",
    "ram_work",
    "cooler_energy",
    "surroundings_energy",
    "top_up_energy",
    "air_energy",
    "lost_energy",
    "oil_added",
    "oil_lost",
    "air_vented",
    "air_admitted",
    "air_added",
    "air_lost",
)
"""Time integrals of flows over the boundary, kept for the balances: energies [J] and masses [kg]."""

STATE_DTYPE = np.dtype(
    [
        ("time", np.float64),
        ("temperature", np.float64, (4,)),
        ("temperature_rate", np.float64, (4,)),
        ("power", np.float64, (5,)),  # over the boundary of oil and metal at the end of the last step, see oil_step
        ("air_heat", np.float64),  # N = m T of the headspace air [kg K]
        ("air_mass", np.float64),
        ("dissolved_air", np.float64),
        ("free_air", np.float64),
        ("oil_mass", np.float64),
        ("oil_energy", np.float64),
        ("cap_on", np.int64),
        ("relief_open", np.int64),
        ("vacuum_open", np.int64),
        ("fan_running", np.int64),
        ("cooler_open", np.int64),
        ("fresh", np.int64),
        ("valve_free_time", np.float64),
        ("oil_step", np.float64),
        ("gas_step", np.float64),
        ("headspace_power", np.float64),
        *[(name, np.float64) for name in QUADRATURES],
        ("steps", np.int64),
        ("rejected", np.int64),
        ("evaluations", np.int64),
    ]
)

SCRATCH_DTYPE = np.dtype(
    [
        ("middle_matrix", np.float64, (4, 4)),
        ("middle_source", np.float64, (4,)),
        ("end_matrix", np.float64, (4, 4)),
        ("end_source", np.float64, (4,)),
        ("system", np.float64, (4, 4)),
        ("middle", np.float64, (4,)),
        ("predicted", np.float64, (4,)),
        ("end", np.float64, (4,)),
        ("rate", np.float64, (4,)),
        ("middle_power", np.float64, (5,)),
        ("end_power", np.float64, (5,)),
    ]
)

Record = Any


def empty_record(dtype: np.dtype[Any]) -> Record:
    """Return one zeroed record with attribute access, compiled or not.

    Parameters
    ----------
    dtype : numpy.dtype
        `STATE_DTYPE` or `SCRATCH_DTYPE`.

    Returns
    -------
    numpy record
        A view of its own memory.
    """
    table = np.zeros(1, dtype=dtype).view(np.recarray)
    return table[0]
