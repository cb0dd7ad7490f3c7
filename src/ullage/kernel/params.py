"""One record of parameters per race, and the table of channels that drives it.

Every field is a float64 in SI units. A study is an array of such records; the compiled code reads `p.tank_volume`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled

RELIEF_IN_PUMP = 0.0
RELIEF_IN_STEERING_GEAR = 1.0
RELIEF_IN_RESERVOIR = 2.0
ENGINE_TURNS = 1.0  # engine speed from which it runs [rad s-1]
CAP_SEALED = 0.0
CAP_VENTED = 1.0
STUCK_OPEN, STUCK_SHUT = 1, -1


class Parameters:
    """Parameters of one race, SI units: the fields of the record."""

    # oil
    density_15: float
    viscosity_constant: float
    viscosity_slope: float
    cold_viscosity_constant: float
    cold_viscosity_slope: float
    ageing_factor: float
    heat_constant: float
    heat_slope: float
    bunsen: float
    solubility_slope: float
    water_saturation: float
    transfer_velocity: float
    rough_ground_factor: float
    rest_factor: float
    # bubbles
    slosh_factor: float
    bubble_diameter: float
    sheared_bubble_diameter: float
    air_diffusivity: float
    release_threshold: float
    tank_release_rate: float
    line_release_rate: float
    bleeding_cycles: float
    # reservoir
    tank_volume: float
    tank_expansion: float
    tank_compliance: float
    surface_area: float
    tank_metal: float
    tank_rating: float
    outlet_height: float
    outlet_forward: float
    outlet_left: float
    mark: float
    splash_volume: float
    gas_oil_conductance: float
    gas_wall_conductance: float
    tank_outside: float
    # pump
    pump_volume: float
    passage_expansion: float
    pump_metal: float
    displacement: float
    drive_ratio: float
    belt_slip: float
    slip_coefficient: float
    viscous_drag: float
    friction: float
    idle_torque: float
    set_flow: float
    control_drop: float
    bypass_to_reservoir: float
    relief_pressure: float
    relief_place: float
    seal_rating: float
    maximum_speed: float
    minimum_inlet_pressure: float
    port_loss: float
    port_viscous_loss: float
    pump_outside: float
    mount_conductance: float
    # steering gear
    gear_volume: float
    gear_metal: float
    rod_volume: float
    centre_drop: float
    centre_flow: float
    work_share: float
    gear_outside: float
    # return line, filter and cooler
    cooler_volume: float
    cooler_metal: float
    return_drop: float
    filter_drop: float
    filter_bypass: float
    return_flow: float
    return_viscosity: float
    return_port_level: float
    entrainment: float
    plunging_entrainment: float
    core_oil_side: float
    core_air_side: float
    core_flow: float
    core_air_speed: float
    core_viscosity: float
    core_flow_exponent: float
    core_air_exponent: float
    core_viscosity_exponent: float
    core_face_area: float
    core_speed_share: float
    core_preheat: float
    fan_air_speed: float
    fan_on: float
    fan_off: float
    thermostat_open: float
    thermostat_shut: float
    still_conductance: float
    ring_conductance: float
    # feed line
    feed_bore: float
    feed_length: float
    feed_loss: float
    feed_roughness: float
    pump_forward: float
    pump_left: float
    inertia_length: float
    strainer_drop: float
    strainer_flow: float
    strainer_viscosity: float
    sight_glass_depth: float
    # cap
    cap_kind: float
    relief_crack: float
    relief_full: float
    relief_reseat: float
    relief_area: float
    weep_area: float
    vacuum_crack: float
    vacuum_full: float
    vacuum_reseat: float
    vacuum_area: float
    breather_area: float
    neck_area: float
    # tolerances
    temperature_tolerance: float
    pressure_tolerance: float
    mass_tolerance: float


FIELDS = tuple(Parameters.__annotations__)
PARAMETER_DTYPE = np.dtype([(name, np.float64) for name in FIELDS])


class Forcing(NamedTuple):
    """The channels at one instant, SI units; from `cap_on` on they keep their value between two rows.

    Accelerations are those of the truck, forward, left and up. `relief_stuck` and `vacuum_stuck` are 1 for a valve that
    stays open, -1 for one that stays shut. `mark_fills` counts how often the tank was filled to its mark.
    `recharge_pressure` is that of the regulator over ambient, 0 without one; `fan_forced` is 1 while the crew has
    forced the fan on. `ground_roughness` is 1 on rough ground, 0 on a smooth one; `wetting` is how much more heat parts
    give off than dry ones; `fan_share` is the share of its full air speed at which the fan runs while it runs.
    """

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
    forward_acceleration: float
    left_acceleration: float
    upward_acceleration: float
    cap_on: float
    relief_stuck: float
    vacuum_stuck: float
    leak_area: float
    core_blockage: float
    strainer_factor: float
    bore_share: float
    drain_flow: float
    water_content: float
    mark_fills: float
    recharge_pressure: float
    fan_forced: float
    ground_roughness: float
    wetting: float
    fan_share: float


CHANNELS = Forcing._fields
CHANNEL_INDEX = {name: index for index, name in enumerate(CHANNELS)}
FIRST_MODE = CHANNEL_INDEX["cap_on"]


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
        Linear between both rows, modes and faults as in the first.
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
        rest * a[10] + share * b[10],
        rest * a[11] + share * b[11],
        rest * a[12] + share * b[12],
        a[13],
        a[14],
        a[15],
        a[16],
        a[17],
        a[18],
        a[19],
        a[20],
        a[21],
        a[22],
        a[23],
        a[24],
        a[25],
        a[26],
        a[27],
    )
