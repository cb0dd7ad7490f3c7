"""The one function that makes a parameter record from a specification."""

from __future__ import annotations

import math

from ullage.kernel.params import (
    CAP_SEALED,
    CAP_VENTED,
    RELIEF_IN_PUMP,
    RELIEF_IN_RESERVOIR,
    RELIEF_IN_STEERING_GEAR,
    Parameters,
    parameter_record,
)
from ullage.physics import oil, pump
from ullage.physics.atmosphere import pressure
from ullage.scenario.circuit import PASSAGE_EXPANSION, fluid_grade, hole_area, initial_gas
from ullage.scenario.duty_spec import ScenarioSpec

TEMPERATURE_TOLERANCE = 0.1
PRESSURE_TOLERANCE = 20.0
MASS_TOLERANCE = 1e-3

_RELIEF_PLACES = {
    "pump": RELIEF_IN_PUMP,
    "steering_gear": RELIEF_IN_STEERING_GEAR,
    "reservoir": RELIEF_IN_RESERVOIR,
}
_FIT_TEMPERATURE = 313.15
_AT_ONCE = 10.0  # rate of what happens at once: far faster than the oil goes round [s-1]
_RELEASE_AT_ONCE = 1000.0  # the same in a line, where the oil stays for a fraction of a second [s-1]
_FAST_SAMPLES = 0.1 + 1e-9  # longest step of channels that show how a column of oil speeds up [s]


def make_parameters(spec: ScenarioSpec, tolerance_factor: float) -> Parameters:
    """Make the parameter record of a race.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on all tolerances; 1 is the default accuracy.

    Returns
    -------
    numpy record
        One float64 field a quantity, SI units.
    """
    values = {
        **_fluid(spec),
        **_bubbles(spec),
        **_exchange(spec),
        **_reservoir(spec),
        **_pump(spec),
        **_steering_and_return(spec),
        **_cooler(spec),
        **_feed_line(spec),
        **_cap(spec),
        "ring_conductance": spec.surroundings.ring_conductance,
        "passage_expansion": PASSAGE_EXPANSION,
        "temperature_tolerance": TEMPERATURE_TOLERANCE * tolerance_factor,
        "pressure_tolerance": PRESSURE_TOLERANCE * tolerance_factor,
        "mass_tolerance": MASS_TOLERANCE * tolerance_factor,
    }
    return parameter_record(values)


def _fluid(spec: ScenarioSpec) -> dict[str, float]:
    fluid = spec.fluid
    grade = fluid_grade(fluid)
    constant, slope = oil.walther_constants(313.15, grade.viscosity_40, 373.15, grade.viscosity_100)
    cold = constant, slope
    if fluid.cold_temperature is not None and fluid.cold_viscosity is not None:
        cold = oil.walther_constants(fluid.cold_temperature, fluid.cold_viscosity, 313.15, grade.viscosity_40)
    heat = oil.specific_heat_constants(grade.density_15)
    return {
        "density_15": grade.density_15,
        "viscosity_constant": constant,
        "viscosity_slope": slope,
        "cold_viscosity_constant": cold[0],
        "cold_viscosity_slope": cold[1],
        "ageing_factor": fluid.ageing_factor,
        "heat_constant": heat[0],
        "heat_slope": heat[1],
        "bunsen": fluid.bunsen_coefficient,
        "solubility_slope": fluid.solubility_slope,
        "water_saturation": fluid.water_saturation_20,
    }


def _bubbles(spec: ScenarioSpec) -> dict[str, float]:
    part = spec.air
    return {
        "slosh_factor": part.slosh_factor,
        "bubble_diameter": part.bubble_diameter,
        "sheared_bubble_diameter": part.sheared_bubble_diameter,
        "bleeding_cycles": part.bleeding_cycles,
    }


def _exchange(spec: ScenarioSpec) -> dict[str, float]:
    """Return how fast air goes in and out of solution, by the model of the air."""
    part = spec.air
    if part.model == "equilibrium":
        return _equilibrium(spec)
    moves = 1.0 if part.model == "kinetic" else 0.0
    return {
        "transfer_velocity": moves * part.transfer_velocity,
        "rough_ground_factor": part.rough_ground_factor,
        "rest_factor": part.rest_factor,
        "air_diffusivity": moves * part.diffusivity,
        "release_threshold": part.release_threshold,
        "tank_release_rate": moves / part.tank_release_time,
        "line_release_rate": moves / part.line_release_time,
    }


def _equilibrium(spec: ScenarioSpec) -> dict[str, float]:
    oil_volume = initial_gas(spec).oil_mass / fluid_grade(spec.fluid).density_15
    return {
        "transfer_velocity": _AT_ONCE * oil_volume / spec.reservoir.surface_area,
        "rough_ground_factor": 1.0,
        "rest_factor": 1.0,
        "air_diffusivity": spec.air.diffusivity,
        "release_threshold": 0.0,
        "tank_release_rate": _RELEASE_AT_ONCE,
        "line_release_rate": _RELEASE_AT_ONCE,
    }


def _reservoir(spec: ScenarioSpec) -> dict[str, float]:
    tank = spec.reservoir
    return {
        "tank_volume": tank.volume,
        "tank_expansion": tank.expansion,
        "tank_compliance": tank.compliance,
        "surface_area": tank.surface_area,
        "tank_metal": tank.metal_heat_capacity,
        "tank_rating": tank.rating.pascal,
        "outlet_height": tank.outlet_height,
        "outlet_forward": tank.outlet_forward,
        "outlet_left": tank.outlet_left,
        "mark": tank.fill,
        "splash_volume": tank.splash_volume,
        "gas_oil_conductance": tank.oil_gas_conductance,
        "gas_wall_conductance": tank.wall_gas_conductance,
        "tank_outside": tank.outside_conductance,
    }


def _pump(spec: ScenarioSpec) -> dict[str, float]:
    part = spec.pump
    displacement = part.displacement / (2.0 * math.pi)
    density = oil.density(_FIT_TEMPERATURE, fluid_grade(spec.fluid).density_15)
    slip, friction = part.slip_coefficient, part.friction
    if point := part.flow_point:
        slip = pump.slip_coefficient(displacement, point.speed, point.flow, point.pressure, point.viscosity * density)
    if torque := part.torque_point:
        friction = pump.friction_coefficient(
            displacement,
            torque.pressure,
            torque.viscosity * density,
            torque.speed,
            torque.torque,
            part.viscous_drag,
            part.idle_torque,
        )
    return {
        "pump_volume": part.oil_volume,
        "pump_metal": part.metal_heat_capacity,
        "displacement": displacement,
        "drive_ratio": part.drive_ratio,
        "belt_slip": part.belt_slip,
        "slip_coefficient": slip,
        "viscous_drag": part.viscous_drag,
        "friction": friction,
        "idle_torque": part.idle_torque,
        "set_flow": math.inf if part.controlled_flow is None else part.controlled_flow,
        "control_drop": part.control_valve_drop,
        "bypass_to_reservoir": 1.0 if part.bypass_routing == "reservoir" else 0.0,
        "relief_pressure": part.relief_pressure,
        "relief_place": _RELIEF_PLACES[part.relief_location],
        "seal_rating": part.seal_rating.pascal,
        "maximum_speed": part.maximum_speed,
        "minimum_inlet_pressure": part.minimum_inlet_pressure.absolute(pressure(part.rating_elevation or 0.0)),
        "port_loss": part.port_loss,
        "port_viscous_loss": part.port_viscous_loss,
        "pump_outside": part.outside_conductance,
        "mount_conductance": part.mount_conductance,
    }


def _steering_and_return(spec: ScenarioSpec) -> dict[str, float]:
    gear, line = spec.steering_gear, spec.return_line
    return {
        "gear_volume": gear.oil_volume,
        "gear_metal": gear.metal_heat_capacity,
        "rod_volume": gear.rod_volume,
        "centre_drop": gear.open_centre_drop,
        "centre_flow": gear.open_centre_flow,
        "work_share": gear.work_share,
        "gear_outside": gear.outside_conductance,
        "return_drop": line.drop,
        "filter_drop": line.filter_drop,
        "filter_bypass": line.filter_bypass_pressure,
        "return_flow": line.rated_flow,
        "return_viscosity": line.rated_viscosity,
        "return_port_level": line.port_level,
        "entrainment": line.entrainment,
        "plunging_entrainment": line.plunging_entrainment,
    }


def _cooler(spec: ScenarioSpec) -> dict[str, float]:
    part = spec.cooler
    never, always = math.inf, -math.inf
    fan_on, fan_off = part.fan_on_temperature, part.fan_off_temperature
    if part.fan_air_speed == 0.0:
        fan_on, fan_off = never, always
    return {
        "cooler_volume": part.oil_volume,
        "cooler_metal": part.metal_heat_capacity,
        "core_oil_side": part.oil_side_conductance,
        "core_air_side": part.air_side_conductance,
        "core_flow": part.rated_flow,
        "core_air_speed": part.rated_air_speed,
        "core_viscosity": part.rated_viscosity,
        "core_flow_exponent": part.flow_exponent,
        "core_air_exponent": part.air_exponent,
        "core_viscosity_exponent": part.viscosity_exponent,
        "core_face_area": part.face_area,
        "core_speed_share": part.air_speed_share,
        "core_preheat": part.preheat,
        "fan_air_speed": part.fan_air_speed,
        "fan_on": always if fan_on is None else fan_on,
        "fan_off": always if fan_off is None else fan_off,
        "thermostat_open": _or(part.thermostat_open_temperature, always),
        "thermostat_shut": _or(part.thermostat_shut_temperature, always),
        "still_conductance": part.still_air_conductance,
    }


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


def _feed_line(spec: ScenarioSpec) -> dict[str, float]:
    line = spec.feed_line
    return {
        "feed_bore": line.bore,
        "feed_length": line.length,
        "feed_loss": line.loss_coefficient,
        "feed_roughness": line.roughness,
        "pump_forward": line.pump_forward,
        "pump_left": line.pump_left,
        "inertia_length": line.length if _longest_step(spec) <= _FAST_SAMPLES else 0.0,
        "strainer_drop": line.strainer_drop,
        "strainer_flow": line.strainer_rated_flow,
        "strainer_viscosity": line.strainer_rated_viscosity,
        "sight_glass_depth": line.sight_glass_depth,
    }


def _longest_step(spec: ScenarioSpec) -> float:
    """Return the step of the samples, or that of a recording if it is longer [s]."""
    recording, interval = spec.duty.recording, spec.duty.sample_interval
    return max(interval, recording.log.usual_step) if recording else interval


def _cap(spec: ScenarioSpec) -> dict[str, float]:
    cap = spec.cap
    discharge = cap.discharge_coefficient
    return {
        "cap_kind": CAP_SEALED if cap.kind == "sealed" else CAP_VENTED,
        "relief_crack": cap.relief_pressure,
        "relief_full": cap.relief_pressure + cap.full_lift_rise,
        "relief_reseat": cap.relief_pressure * (1.0 - cap.reseat_drop),
        "relief_area": discharge * cap.relief_area,
        "weep_area": hole_area(cap, cap.weep_diameter),
        "vacuum_crack": cap.vacuum_pressure,
        "vacuum_full": 2.0 * cap.vacuum_pressure,
        "vacuum_reseat": cap.vacuum_pressure * (1.0 - cap.reseat_drop),
        "vacuum_area": discharge * cap.vacuum_area,
        "breather_area": discharge * cap.breather_area,
        "neck_area": discharge * cap.neck_area,
    }
