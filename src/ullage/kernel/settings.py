"""The numbers of a scenario on which parameters and initial state depend, as one record.

`derive` makes the parameters of the march from them, `fill` the initial state.
"""

from __future__ import annotations

BYPASS_TO_INLET, BYPASS_TO_RESERVOIR = 0.0, 1.0
AIR_FROZEN, AIR_KINETIC, AIR_EQUILIBRIUM = 0.0, 1.0, 2.0


class Settings:
    """Numbers of one scenario, SI units; a field is named after its key: `reservoir_fill` after `reservoir.fill`.

    A key that may stay out is not a number where it is out. `cap_kind` and `pump_relief_location` are codes of
    kernel/params.py, `pump_bypass_routing` and `air_model` of this module.

    Oil and start temperature are there whether the file gives them or leaves them to a preset and to the weather.
    `reservoir_rating` and `pump_seal_rating` are over ambient, `pump_minimum_inlet_pressure` is absolute.
    `start_headspace_pressure` is over ambient where `start_headspace_gauge` is 1, so that it goes with elevation and
    weather; it is absolute where that is 0.

    Not keys: `feed_inertia` is 1 if the oil in the feed line takes time to speed up, else 0; `tolerance_factor` is a
    factor on the tolerances.
    """

    # fluid
    fluid_viscosity_40: float
    fluid_viscosity_100: float
    fluid_density_15: float
    fluid_cold_temperature: float
    fluid_cold_viscosity: float
    fluid_ageing_factor: float
    fluid_bunsen_coefficient: float
    fluid_solubility_slope: float
    fluid_water_content: float
    fluid_water_saturation_20: float
    # reservoir
    reservoir_volume: float
    reservoir_fill: float
    reservoir_fill_temperature: float
    reservoir_surface_area: float
    reservoir_outlet_height: float
    reservoir_outlet_forward: float
    reservoir_outlet_left: float
    reservoir_expansion: float
    reservoir_compliance: float
    reservoir_metal_heat_capacity: float
    reservoir_outside_conductance: float
    reservoir_oil_gas_conductance: float
    reservoir_wall_gas_conductance: float
    reservoir_splash_volume: float
    reservoir_rating: float
    # cap
    cap_kind: float
    cap_relief_pressure: float
    cap_full_lift_rise: float
    cap_reseat_drop: float
    cap_relief_area: float
    cap_weep_diameter: float
    cap_vacuum_pressure: float
    cap_vacuum_area: float
    cap_breather_area: float
    cap_neck_area: float
    cap_discharge_coefficient: float
    # pump
    pump_displacement: float
    pump_drive_ratio: float
    pump_belt_slip: float
    pump_maximum_speed: float
    pump_minimum_inlet_pressure: float
    pump_port_loss: float
    pump_port_viscous_loss: float
    pump_oil_volume: float
    pump_metal_heat_capacity: float
    pump_slip_coefficient: float
    pump_viscous_drag: float
    pump_friction: float
    pump_idle_torque: float
    pump_controlled_flow: float
    pump_control_valve_drop: float
    pump_bypass_routing: float
    pump_relief_pressure: float
    pump_relief_location: float
    pump_outside_conductance: float
    pump_mount_conductance: float
    pump_seal_rating: float
    # steering_gear
    steering_gear_oil_volume: float
    steering_gear_metal_heat_capacity: float
    steering_gear_open_centre_drop: float
    steering_gear_open_centre_flow: float
    steering_gear_work_share: float
    steering_gear_rod_volume: float
    steering_gear_outside_conductance: float
    # return_line
    return_line_drop: float
    return_line_filter_drop: float
    return_line_filter_bypass_pressure: float
    return_line_rated_flow: float
    return_line_rated_viscosity: float
    return_line_port_level: float
    return_line_entrainment: float
    return_line_plunging_entrainment: float
    # cooler
    cooler_oil_volume: float
    cooler_metal_heat_capacity: float
    cooler_oil_side_conductance: float
    cooler_air_side_conductance: float
    cooler_rated_flow: float
    cooler_rated_air_speed: float
    cooler_rated_viscosity: float
    cooler_flow_exponent: float
    cooler_air_exponent: float
    cooler_viscosity_exponent: float
    cooler_face_area: float
    cooler_air_speed_share: float
    cooler_preheat: float
    cooler_still_air_conductance: float
    cooler_fan_air_speed: float
    cooler_fan_on_temperature: float
    cooler_fan_off_temperature: float
    cooler_thermostat_open_temperature: float
    cooler_thermostat_shut_temperature: float
    # feed_line
    feed_line_bore: float
    feed_line_length: float
    feed_line_loss_coefficient: float
    feed_line_roughness: float
    feed_line_strainer_drop: float
    feed_line_strainer_rated_flow: float
    feed_line_strainer_rated_viscosity: float
    feed_line_pump_forward: float
    feed_line_pump_left: float
    feed_line_sight_glass_depth: float
    # surroundings
    surroundings_bay_offset: float
    surroundings_stop_rise: float
    surroundings_bay_settling_time: float
    surroundings_block_temperature: float
    surroundings_block_warming_time: float
    surroundings_block_cooling_time: float
    surroundings_ring_conductance: float
    surroundings_wet_factor: float
    # air
    air_model: float
    air_transfer_velocity: float
    air_rough_ground_factor: float
    air_rest_factor: float
    air_slosh_factor: float
    air_bubble_diameter: float
    air_sheared_bubble_diameter: float
    air_diffusivity: float
    air_release_threshold: float
    air_tank_release_time: float
    air_line_release_time: float
    air_bleeding_cycles: float
    # weather
    weather_pressure_offset: float
    # start
    start_temperature: float
    start_elevation: float
    start_headspace_pressure: float
    start_air_saturation: float
    start_trapped_air: float
    # points of the data sheet of the pump
    pump_flow_point_speed: float
    pump_flow_point_pressure: float
    pump_flow_point_flow: float
    pump_flow_point_viscosity: float
    pump_torque_point_speed: float
    pump_torque_point_pressure: float
    pump_torque_point_torque: float
    pump_torque_point_viscosity: float
    # not keys
    start_headspace_gauge: float
    feed_inertia: float
    tolerance_factor: float


SETTINGS = tuple(Settings.__annotations__)
