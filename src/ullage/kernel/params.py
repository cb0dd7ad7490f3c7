"""One record of parameters per race, and the table of channels that drives it.

Every field is a float64 in SI units. A study is an array of such records; the compiled code reads `p.tank_volume`.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled

RELIEF_IN_PUMP = 0.0
RELIEF_IN_STEERING_GEAR = 1.0
RELIEF_IN_RESERVOIR = 2.0
CAP_SEALED = 0.0
CAP_VENTED = 1.0

FIELDS = (
    # oil
    "density_15",
    "viscosity_constant",
    "viscosity_slope",
    "cold_viscosity_constant",
    "cold_viscosity_slope",
    "ageing_factor",
    "heat_constant",
    "heat_slope",
    "bunsen",
    "solubility_slope",
    "water_content",
    "water_saturation",
    "transfer_velocity",
    "rest_factor",
    # reservoir
    "tank_volume",
    "tank_expansion",
    "tank_compliance",
    "surface_area",
    "tank_metal",
    "tank_rating",
    "outlet_height",
    "splash_volume",
    "gas_oil_conductance",
    "gas_wall_conductance",
    "tank_outside",
    # pump
    "pump_volume",
    "passage_expansion",
    "pump_metal",
    "displacement",
    "drive_ratio",
    "belt_slip",
    "slip_coefficient",
    "viscous_drag",
    "friction",
    "idle_torque",
    "set_flow",
    "control_drop",
    "bypass_to_reservoir",
    "relief_pressure",
    "relief_place",
    "seal_rating",
    "pump_outside",
    "mount_conductance",
    # steering gear
    "gear_volume",
    "gear_metal",
    "rod_volume",
    "centre_drop",
    "centre_flow",
    "work_share",
    "gear_outside",
    # return line, filter and cooler
    "cooler_volume",
    "cooler_metal",
    "return_drop",
    "filter_drop",
    "filter_bypass",
    "return_flow",
    "return_viscosity",
    "core_oil_side",
    "core_air_side",
    "core_flow",
    "core_air_speed",
    "core_viscosity",
    "core_flow_exponent",
    "core_air_exponent",
    "core_viscosity_exponent",
    "core_face_area",
    "core_blockage",
    "core_speed_share",
    "core_preheat",
    "fan_air_speed",
    "fan_on",
    "fan_off",
    "thermostat_open",
    "thermostat_shut",
    "still_conductance",
    "ring_conductance",
    # feed line
    "feed_bore",
    "feed_length",
    "feed_loss",
    "feed_roughness",
    # cap
    "cap_kind",
    "relief_crack",
    "relief_full",
    "relief_reseat",
    "relief_area",
    "weep_area",
    "vacuum_crack",
    "vacuum_full",
    "vacuum_reseat",
    "vacuum_area",
    "leak_area",
    "breather_area",
    "neck_area",
    # tolerances
    "temperature_tolerance",
    "pressure_tolerance",
    "mass_tolerance",
)
PARAMETER_DTYPE = np.dtype([(name, np.float64) for name in FIELDS])

CHANNELS = (
    "engine_speed",
    "vehicle_speed",
    "steering_load",
    "steering_position",
    "ambient_pressure",
    "ambient_temperature",
    "bay_temperature",
    "block_temperature",
    "top_up_flow",
    "top_up_temperature",
    "cap_on",
)
CHANNEL_INDEX = {name: index for index, name in enumerate(CHANNELS)}

Record = Any


class Forcing(NamedTuple):
    """The channels at one instant, SI units."""

    engine_speed: float
    vehicle_speed: float
    steering_load: float
    steering_position: float
    ambient_pressure: float
    ambient_temperature: float
    bay_temperature: float
    block_temperature: float
    top_up_flow: float
    top_up_temperature: float
    cap_on: float


@compiled
def forcing_between(channels: NDArray[np.float64], row: int, share: float) -> Forcing:
    """Return the channels at a share of the interval that starts at a row.

    Parameters
    ----------
    channels : array of shape (rows, channels)
        Channel table.
    row : int
        First row of the interval.
    share : float
        Place between this row and the next, 0 to 1.

    Returns
    -------
    Forcing
        Linear between both rows.
    """
    rest = 1.0 - share
    a = channels[row]
    b = channels[row + 1]
    return Forcing(
        rest * a[0] + share * b[0],
        rest * a[1] + share * b[1],
        rest * a[2] + share * b[2],
        rest * a[3] + share * b[3],
        rest * a[4] + share * b[4],
        rest * a[5] + share * b[5],
        rest * a[6] + share * b[6],
        rest * a[7] + share * b[7],
        rest * a[8] + share * b[8],
        rest * a[9] + share * b[9],
        a[10],
    )


def parameter_record(values: dict[str, float]) -> Record:
    """Make a parameter record.

    Parameters
    ----------
    values : dict
        A number for every name of `FIELDS`, SI units.

    Returns
    -------
    numpy record
        The record; a later batch is an array of them.

    Raises
    ------
    ValueError
        If a field is missing or unknown.
    """
    if set(values) != set(FIELDS):
        difference = sorted(set(values) ^ set(FIELDS))
        raise ValueError(f"fields missing or unknown: {', '.join(difference)}")
    table = np.recarray(1, dtype=PARAMETER_DTYPE)
    for name in FIELDS:
        table[name] = values[name]
    return table[0]
