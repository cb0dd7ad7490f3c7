"""The one way from the numbers of a scenario to parameters and initial state."""

from __future__ import annotations

import math
from typing import Any

from numpy.typing import NDArray

from ullage.compiled import compiled, merged
from ullage.kernel.filling import PASSAGE_EXPANSION, InitialGas, fill
from ullage.kernel.params import Parameters
from ullage.kernel.settings import AIR_EQUILIBRIUM, AIR_KINETIC, BYPASS_TO_RESERVOIR, Settings
from ullage.physics import oil, pump

TEMPERATURE_TOLERANCE = 0.1
PRESSURE_TOLERANCE = 20.0
MASS_TOLERANCE = 1e-3

_AT_40, _AT_100 = 313.15, 373.15  # where data sheets give viscosities; those of pumps are made at the first [K]
_AT_ONCE = 10.0  # rate of what happens at once: far faster than the oil goes round [s-1]
_RELEASE_AT_ONCE = 1000.0  # the same in a line, where the oil stays for a fraction of a second [s-1]


@compiled
def _number_or(number: float, otherwise: float) -> float:
    """Return the number of a key that may stay out, or what holds without it."""
    return otherwise if math.isnan(number) else number


@compiled
def hole_area(discharge_coefficient: float, diameter: float) -> float:
    """Return the flow area of a round hole.

    Parameters
    ----------
    discharge_coefficient : float
        Flow over the ideal [1].
    diameter : float
        Diameter [m].

    Returns
    -------
    float
        Area that an ideal flow would take [m2].
    """
    return discharge_coefficient * 0.25 * math.pi * diameter * diameter


@compiled
def _oil_factor(tolerance_factor: float) -> float:
    """Return the factor on the oil's tolerance; what the gas hears of the oil is of first order: it falls faster."""
    return min(tolerance_factor, tolerance_factor * math.sqrt(tolerance_factor))


@merged
def derive(c: Settings, oil_mass: float, p: Parameters) -> None:
    """Write every parameter of a race.

    Parameters
    ----------
    c : record
        Settings.
    oil_mass : float
        Oil in the whole circuit at the start [kg].
    p : record
        Parameters; all are written.
    """
    _oil_and_air(c, oil_mass, p)
    _reservoir_and_cap(c, p)
    _pump_and_steering(c, p)
    _slip_and_friction(c, p)
    _cooler_and_lines(c, p)
    p.ring_conductance = c.surroundings_ring_conductance
    p.passage_expansion = PASSAGE_EXPANSION
    p.temperature_tolerance = TEMPERATURE_TOLERANCE * _oil_factor(c.tolerance_factor)
    p.pressure_tolerance = PRESSURE_TOLERANCE * c.tolerance_factor
    p.mass_tolerance = MASS_TOLERANCE * c.tolerance_factor


@compiled
def prepare(settings: NDArray[Any], gas: InitialGas, parameters: NDArray[Any], states: NDArray[Any]) -> None:
    """Write parameters and initial state of a race.

    Parameters
    ----------
    settings : record array of shape (1,)
        Settings.
    gas : InitialGas
        The air space at the start, of `initial_gas`.
    parameters, states : record array of shape (1,)
        Parameters, and a state that is zero everywhere: written.
    """
    derive(settings[0], gas.oil_mass, parameters[0])
    fill(gas, parameters[0], states[0])


@compiled
def _oil_and_air(c: Settings, oil_mass: float, p: Parameters) -> None:
    """Write the oil, its bubbles, and how air goes in and out of solution: at the times given, not at all, at once."""
    line = oil.walther_constants(_AT_40, c.fluid_viscosity_40, _AT_100, c.fluid_viscosity_100)
    cold = line
    if not (math.isnan(c.fluid_cold_temperature) or math.isnan(c.fluid_cold_viscosity)):
        cold = oil.walther_constants(c.fluid_cold_temperature, c.fluid_cold_viscosity, _AT_40, c.fluid_viscosity_40)
    heat = oil.specific_heat_constants(c.fluid_density_15)
    p.density_15 = c.fluid_density_15
    p.viscosity_constant = line[0]
    p.viscosity_slope = line[1]
    p.cold_viscosity_constant = cold[0]
    p.cold_viscosity_slope = cold[1]
    p.ageing_factor = c.fluid_ageing_factor
    p.heat_constant = heat[0]
    p.heat_slope = heat[1]
    p.bunsen = c.fluid_bunsen_coefficient
    p.solubility_slope = c.fluid_solubility_slope
    p.water_saturation = c.fluid_water_saturation_20

    p.slosh_factor = c.air_slosh_factor
    p.bubble_diameter = c.air_bubble_diameter
    p.sheared_bubble_diameter = c.air_sheared_bubble_diameter
    p.bleeding_cycles = c.air_bleeding_cycles
    if c.air_model == AIR_EQUILIBRIUM:
        oil_volume = oil_mass / c.fluid_density_15
        p.transfer_velocity = _AT_ONCE * oil_volume / c.reservoir_surface_area
        p.rough_ground_factor = 1.0
        p.rest_factor = 1.0
        p.air_diffusivity = c.air_diffusivity
        p.release_threshold = 0.0
        p.tank_release_rate = _RELEASE_AT_ONCE
        p.line_release_rate = _RELEASE_AT_ONCE
    else:
        moves = 1.0 if c.air_model == AIR_KINETIC else 0.0
        p.transfer_velocity = moves * c.air_transfer_velocity
        p.rough_ground_factor = c.air_rough_ground_factor
        p.rest_factor = c.air_rest_factor
        p.air_diffusivity = moves * c.air_diffusivity
        p.release_threshold = c.air_release_threshold
        p.tank_release_rate = moves / c.air_tank_release_time
        p.line_release_rate = moves / c.air_line_release_time


@compiled
def _reservoir_and_cap(c: Settings, p: Parameters) -> None:
    p.tank_volume = c.reservoir_volume
    p.tank_expansion = c.reservoir_expansion
    p.tank_compliance = c.reservoir_compliance
    p.surface_area = c.reservoir_surface_area
    p.tank_metal = c.reservoir_metal_heat_capacity
    p.tank_rating = c.reservoir_rating
    p.outlet_height = c.reservoir_outlet_height
    p.outlet_forward = c.reservoir_outlet_forward
    p.outlet_left = c.reservoir_outlet_left
    p.mark = c.reservoir_fill
    p.splash_volume = c.reservoir_splash_volume
    p.gas_oil_conductance = c.reservoir_oil_gas_conductance
    p.gas_wall_conductance = c.reservoir_wall_gas_conductance
    p.tank_outside = c.reservoir_outside_conductance

    discharge = c.cap_discharge_coefficient
    p.cap_kind = c.cap_kind
    p.relief_crack = c.cap_relief_pressure
    p.relief_full = c.cap_relief_pressure + c.cap_full_lift_rise
    p.relief_reseat = c.cap_relief_pressure * (1.0 - c.cap_reseat_drop)
    p.relief_area = discharge * c.cap_relief_area
    p.weep_area = hole_area(discharge, c.cap_weep_diameter)
    p.vacuum_crack = c.cap_vacuum_pressure
    p.vacuum_full = 2.0 * c.cap_vacuum_pressure
    p.vacuum_reseat = c.cap_vacuum_pressure * (1.0 - c.cap_reseat_drop)
    p.vacuum_area = discharge * c.cap_vacuum_area
    p.breather_area = discharge * c.cap_breather_area
    p.neck_area = discharge * c.cap_neck_area


@compiled
def _pump_and_steering(c: Settings, p: Parameters) -> None:
    p.pump_volume = c.pump_oil_volume
    p.pump_metal = c.pump_metal_heat_capacity
    p.displacement = c.pump_displacement / (2.0 * math.pi)
    p.drive_ratio = c.pump_drive_ratio
    p.belt_slip = c.pump_belt_slip
    p.viscous_drag = c.pump_viscous_drag
    p.idle_torque = c.pump_idle_torque
    p.set_flow = _number_or(c.pump_controlled_flow, math.inf)
    p.control_drop = c.pump_control_valve_drop
    p.bypass_to_reservoir = 1.0 if c.pump_bypass_routing == BYPASS_TO_RESERVOIR else 0.0
    p.relief_pressure = c.pump_relief_pressure
    p.relief_place = c.pump_relief_location
    p.seal_rating = c.pump_seal_rating
    p.maximum_speed = c.pump_maximum_speed
    p.minimum_inlet_pressure = c.pump_minimum_inlet_pressure
    p.port_loss = c.pump_port_loss
    p.port_viscous_loss = c.pump_port_viscous_loss
    p.pump_outside = c.pump_outside_conductance
    p.mount_conductance = c.pump_mount_conductance

    p.gear_volume = c.steering_gear_oil_volume
    p.gear_metal = c.steering_gear_metal_heat_capacity
    p.rod_volume = c.steering_gear_rod_volume
    p.centre_drop = c.steering_gear_open_centre_drop
    p.centre_flow = c.steering_gear_open_centre_flow
    p.work_share = c.steering_gear_work_share
    p.gear_outside = c.steering_gear_outside_conductance


@compiled
def _slip_and_friction(c: Settings, p: Parameters) -> None:
    """Write both as given, or as a point of the data sheet has it."""
    density = oil.density(_AT_40, c.fluid_density_15)
    p.slip_coefficient = c.pump_slip_coefficient
    if not math.isnan(c.pump_flow_point_flow):
        p.slip_coefficient = pump.slip_coefficient(
            p.displacement,
            c.pump_flow_point_speed,
            c.pump_flow_point_flow,
            c.pump_flow_point_pressure,
            c.pump_flow_point_viscosity * density,
        )
    p.friction = c.pump_friction
    if not math.isnan(c.pump_torque_point_torque):
        p.friction = pump.friction_coefficient(
            p.displacement,
            c.pump_torque_point_pressure,
            c.pump_torque_point_viscosity * density,
            c.pump_torque_point_speed,
            c.pump_torque_point_torque,
            p.viscous_drag,
            p.idle_torque,
        )


@compiled
def _cooler_and_lines(c: Settings, p: Parameters) -> None:
    p.cooler_volume = c.cooler_oil_volume
    p.cooler_metal = c.cooler_metal_heat_capacity
    p.core_oil_side = c.cooler_oil_side_conductance
    p.core_air_side = c.cooler_air_side_conductance
    p.core_flow = c.cooler_rated_flow
    p.core_air_speed = c.cooler_rated_air_speed
    p.core_viscosity = c.cooler_rated_viscosity
    p.core_flow_exponent = c.cooler_flow_exponent
    p.core_air_exponent = c.cooler_air_exponent
    p.core_viscosity_exponent = c.cooler_viscosity_exponent
    p.core_face_area = c.cooler_face_area
    p.core_speed_share = c.cooler_air_speed_share
    p.core_preheat = c.cooler_preheat
    p.thermostat_open = _number_or(c.cooler_thermostat_open_temperature, -math.inf)
    p.thermostat_shut = _number_or(c.cooler_thermostat_shut_temperature, -math.inf)
    p.still_conductance = c.cooler_still_air_conductance
    p.fan_air_speed = c.cooler_fan_air_speed
    if c.cooler_fan_air_speed == 0.0:
        p.fan_on = math.inf
        p.fan_off = -math.inf
    else:
        p.fan_on = _number_or(c.cooler_fan_on_temperature, -math.inf)
        p.fan_off = _number_or(c.cooler_fan_off_temperature, -math.inf)

    p.return_drop = c.return_line_drop
    p.filter_drop = c.return_line_filter_drop
    p.filter_bypass = c.return_line_filter_bypass_pressure
    p.return_flow = c.return_line_rated_flow
    p.return_viscosity = c.return_line_rated_viscosity
    p.return_port_level = c.return_line_port_level
    p.entrainment = c.return_line_entrainment
    p.plunging_entrainment = c.return_line_plunging_entrainment

    p.feed_bore = c.feed_line_bore
    p.feed_length = c.feed_line_length
    p.feed_loss = c.feed_line_loss_coefficient
    p.feed_roughness = c.feed_line_roughness
    p.pump_forward = c.feed_line_pump_forward
    p.pump_left = c.feed_line_pump_left
    p.inertia_length = c.feed_line_length if c.feed_inertia == 1.0 else 0.0
    p.strainer_drop = c.feed_line_strainer_drop
    p.strainer_flow = c.feed_line_strainer_rated_flow
    p.strainer_viscosity = c.feed_line_strainer_rated_viscosity
    p.sight_glass_depth = c.feed_line_sight_glass_depth
