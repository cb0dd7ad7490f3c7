"""The parts of the truck as a scenario describes them. Ranges are what the model accepts, not what is wise."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from ullage.scenario.fields import Level, Spec, quantity
from ullage.scenario.presets import Preset


class FlowPoint(Spec):
    """One flow point of a pump's data sheet."""

    speed: float = quantity("rotation", "50 rpm", "8000 rpm", "required", "shaft speed")
    pressure: float = quantity("pressure difference", "1 bar", "300 bar", "required", "pressure rise")
    flow: float = quantity("flow", "0.1 L/min", "300 L/min", "required", "delivered flow, without flow control")
    viscosity: float = quantity("viscosity", "2 mm2/s", "1000 mm2/s", "required", "viscosity of the test")


class TorquePoint(Spec):
    """One torque point of a pump's data sheet."""

    speed: float = quantity("rotation", "50 rpm", "8000 rpm", "required", "shaft speed")
    pressure: float = quantity("pressure difference", "1 bar", "300 bar", "required", "pressure rise")
    torque: float = quantity("torque", "0.1 N*m", "500 N*m", "required", "torque at the shaft")
    viscosity: float = quantity("viscosity", "2 mm2/s", "1000 mm2/s", "required", "viscosity of the test")


class Fluid(Spec):
    """The oil: a preset by public grade, or its own data-sheet values."""

    preset: Preset | None = Field(default=None, description="an oil by public grade")
    viscosity_40: float | None = quantity("viscosity", "10 mm2/s", "150 mm2/s", None, "viscosity at 40 degC")
    viscosity_100: float | None = quantity("viscosity", "2.5 mm2/s", "30 mm2/s", None, "viscosity at 100 degC")
    density_15: float | None = quantity("density", "800 kg/m3", "1000 kg/m3", None, "density at 15 degC")
    cold_temperature: float | None = quantity("temperature", "-50 degC", "20 degC", None, "cold viscosity point")
    cold_viscosity: float | None = quantity("viscosity", "20 mm2/s", "15000 mm2/s", None, "viscosity there")
    ageing_factor: float = quantity("number", "0.5", "2", "1", "viscosity of the used oil over that of fresh oil")
    bunsen_coefficient: float = quantity("number", "0.05", "0.15", "0.09", "air solubility at 20 degC")
    solubility_slope: float = quantity(
        "expansion",
        "-0.004 1/K",
        "0.004 1/K",
        "0 1/K",
        "relative change of the air solubility",
        weak=True,
        sign="positive: hot oil holds more air",
    )
    water_content: float = quantity("number", "0", "0.002", "0", "mass share of water in the oil")
    water_saturation_20: float = quantity(
        "number", "2e-5", "1e-3", "1e-4", "mass share of water that saturates the oil at 20 degC", weak=True
    )


class Reservoir(Spec):
    """The tank, its wall and its outlet."""

    volume: float = quantity("volume", "1 L", "40 L", "required", "inner volume at 20 degC")
    fill: float = quantity("number", "0.3", "0.97", "required", "share of the volume taken by oil at the mark")
    fill_temperature: float = quantity("temperature", "-20 degC", "130 degC", "20 degC", "oil temperature at the mark")
    surface_area: float = quantity("area", "30 cm2", "2000 cm2", "210 cm2", "plan area of the oil surface")
    outlet_height: float = quantity(
        "length",
        "-0.5 m",
        "1.5 m",
        "0.25 m",
        "height of the outlet over the pump inlet",
        sign="positive: outlet higher",
    )
    outlet_forward: float = quantity(
        "length",
        "-0.5 m",
        "0.5 m",
        "0 m",
        "outlet from the middle of the tank",
        sign="positive: outlet further forward",
    )
    outlet_left: float = quantity(
        "length", "-0.5 m", "0.5 m", "0 m", "outlet from the middle of the tank", sign="positive: outlet further left"
    )
    expansion: float = quantity("expansion", "1e-5 1/K", "2e-4 1/K", "7.1e-5 1/K", "volume expansion of the wall")
    compliance: float = quantity(
        "compliance", "2e-11 m3/Pa", "1e-8 m3/Pa", "2e-10 m3/Pa", "how far the wall gives way", weak=True
    )
    metal_heat_capacity: float = quantity("heat capacity", "0.1 kJ/K", "20 kJ/K", "2 kJ/K", "heat held by the wall")
    outside_conductance: float = quantity("conductance", "0 W/K", "50 W/K", "4 W/K", "to the bay, standing", weak=True)
    oil_gas_conductance: float = quantity("conductance", "0 W/K", "5 W/K", "0.6 W/K", "oil to air space", weak=True)
    wall_gas_conductance: float = quantity("conductance", "0 W/K", "2 W/K", "0.15 W/K", "bay to air space", weak=True)
    splash_volume: float = quantity(
        "volume", "1 mL", "200 mL", "20 mL", "air space below which the cap passes oil", weak=True
    )
    rating: Level = quantity("pressure level", "0.2 barg", "10 barg", "2.5 barg", "pressure that the tank is rated for")


class Cap(Spec):
    """The pressure cap, or the vent."""

    kind: Literal["sealed", "vented"] = Field(description="a cap with valves, or a breather")
    relief_pressure: float = quantity("pressure difference", "1 psi", "40 psi", "16 psi", "relief valve cracks")
    full_lift_rise: float = quantity("pressure difference", "0.2 psi", "10 psi", "2 psi", "from crack to full lift")
    reseat_drop: float = quantity("number", "0.02", "0.5", "0.1", "reseats this share below the crack", weak=True)
    relief_area: float = quantity("valve area", "1 mm2", "200 mm2", "20 mm2", "relief valve at full lift")
    weep_diameter: float = quantity("short length", "0 mm", "0.5 mm", "0 mm", "outward weep below the crack")
    vacuum_pressure: float = quantity("pressure difference", "0.05 psi", "3 psi", "0.5 psi", "vacuum valve opens")
    vacuum_area: float = quantity("valve area", "1 mm2", "200 mm2", "20 mm2", "vacuum valve at full lift")
    leak_diameter: float = quantity("short length", "0 mm", "2 mm", "0 mm", "leak of the seal, both ways")
    breather_area: float = quantity("valve area", "0.1 mm2", "200 mm2", "3 mm2", "breather of a vented cap")
    neck_area: float = quantity("area", "0.5 cm2", "20 cm2", "5 cm2", "open neck with the cap off")
    discharge_coefficient: float = quantity(
        "number", "0.4", "1", "0.7", "flow of valves, leak and neck over the ideal", weak=True
    )


class Pump(Spec):
    """The pump, its drive, its flow control and its relief valve."""

    displacement: float = quantity("volume", "5 cm3", "60 cm3", "required", "per revolution")
    drive_ratio: float = quantity("number", "0.3", "2", "1", "pump speed over engine speed")
    belt_slip: float = quantity("number", "0", "0.2", "0", "share of the speed lost in the belt")
    maximum_speed: float = quantity("rotation", "1000 rpm", "12000 rpm", "5500 rpm", "maker's speed limit", weak=True)
    minimum_inlet_pressure: Level = quantity(
        "pressure level", "-0.95 barg", "1 barg", "55 kPaa", "least pressure at the inlet, at low speed", weak=True
    )
    rating_elevation: float | None = quantity(
        "length",
        "-400 m",
        "5000 m",
        None,
        "where a gauge minimum_inlet_pressure holds",
        sign="above sea level positive",
    )
    port_loss: float = quantity(
        "pressure difference", "0 kPa", "150 kPa", "30 kPa", "more inlet pressure needed at the speed limit", weak=True
    )
    port_viscous_loss: float = quantity(
        "pressure difference", "0 kPa", "150 kPa", "30 kPa", "more needed there by oil of 100 mm2/s", weak=True
    )
    oil_volume: float = quantity("volume", "0.05 L", "2 L", "0.3 L", "oil in the pump")
    metal_heat_capacity: float = quantity("heat capacity", "0.1 kJ/K", "20 kJ/K", "3.5 kJ/K", "heat held by the pump")
    slip_coefficient: float = quantity("number", "1e-9", "1e-7", "1e-8", "Wilson slip", weak=True)
    viscous_drag: float = quantity("number", "1e3", "5e5", "6e4", "Wilson viscous drag", weak=True)
    friction: float = quantity("number", "0.01", "0.3", "0.06", "Wilson dry friction", weak=True)
    idle_torque: float = quantity("torque", "0 N*m", "10 N*m", "1 N*m", "seals and bearings", weak=True)
    flow_point: FlowPoint | None = None
    torque_point: TorquePoint | None = None
    controlled_flow: float | None = quantity("flow", "5 L/min", "120 L/min", None, "set by the flow-control valve")
    control_valve_drop: float = quantity("pressure difference", "0 bar", "20 bar", "5 bar", "flow-control valve")
    bypass_routing: Literal["inlet", "reservoir"] | None = Field(
        default=None, description="where the flow control sends what it does not pass on"
    )
    relief_pressure: float = quantity("pressure difference", "10 bar", "250 bar", "110 bar", "relief valve, fully open")
    relief_location: Literal["pump", "steering_gear", "reservoir"] = Field(
        default="pump", description="the part that the relief valve heats"
    )
    outside_conductance: float = quantity("conductance", "0 W/K", "50 W/K", "3 W/K", "to the bay, standing", weak=True)
    mount_conductance: float = quantity("conductance", "0 W/K", "30 W/K", "1 W/K", "to the engine block", weak=True)
    seal_rating: Level = quantity("pressure level", "0.1 barg", "10 barg", "1.7 barg", "shaft-seal rating")


class SteeringGear(Spec):
    """Steering valve, hoses and ram."""

    oil_volume: float = quantity("volume", "0.1 L", "10 L", "1.6 L", "oil in gear, hoses and ram")
    metal_heat_capacity: float = quantity("heat capacity", "0.1 kJ/K", "50 kJ/K", "6 kJ/K", "heat held by the metal")
    open_centre_drop: float = quantity("pressure difference", "0 bar", "40 bar", "7 bar", "at the open-centre flow")
    open_centre_flow: float = quantity("flow", "5 L/min", "120 L/min", "38 L/min", "at which that drop holds")
    work_share: float = quantity("number", "0", "0.5", "0", "share of the ram's power that leaves as work", weak=True)
    rod_volume: float = quantity("volume", "0 mL", "300 mL", "0 mL", "ram volume difference over its stroke")
    outside_conductance: float = quantity("conductance", "0 W/K", "50 W/K", "6 W/K", "to the bay, standing", weak=True)


class ReturnLine(Spec):
    """Return line, filter, and the port where the oil comes back into the tank."""

    drop: float = quantity("pressure difference", "0 bar", "3 bar", "0.4 bar", "line and cooler, rated", weak=True)
    filter_drop: float = quantity("pressure difference", "0 bar", "3 bar", "0.3 bar", "filter, rated", weak=True)
    filter_bypass_pressure: float = quantity("pressure difference", "0.5 bar", "5 bar", "1.7 bar", "filter bypass")
    rated_flow: float = quantity("flow", "5 L/min", "120 L/min", "30 L/min", "flow of the rating")
    rated_viscosity: float = quantity("viscosity", "5 mm2/s", "60 mm2/s", "15 mm2/s", "viscosity of the rating")
    port_level: float = quantity("number", "0", "1", "0.3", "share of the tank's volume that is below the return port")
    entrainment: float = quantity(
        "number", "0", "0.05", "0.0001", "gas drawn in by a return below the surface, over its flow", weak=True
    )
    plunging_entrainment: float = quantity(
        "number", "0", "0.1", "0.02", "the same of a return above the surface", weak=True
    )


class Cooler(Spec):
    """The oil cooler, its fan and its thermostat."""

    oil_volume: float = quantity("volume", "0.1 L", "10 L", "1.6 L", "oil in cooler, filter and return line")
    metal_heat_capacity: float = quantity("heat capacity", "0.1 kJ/K", "20 kJ/K", "2.5 kJ/K", "heat held by the metal")
    oil_side_conductance: float = quantity("conductance", "5 W/K", "1000 W/K", "160 W/K", "oil side, rated")
    air_side_conductance: float = quantity("conductance", "5 W/K", "1000 W/K", "130 W/K", "air side, rated")
    rated_flow: float = quantity("flow", "5 L/min", "120 L/min", "36 L/min", "oil flow of the rating")
    rated_air_speed: float = quantity("air speed", "0.5 m/s", "20 m/s", "5 m/s", "face air speed of the rating")
    rated_viscosity: float = quantity("viscosity", "3 mm2/s", "60 mm2/s", "9 mm2/s", "oil viscosity of the rating")
    flow_exponent: float = quantity("number", "0", "1", "0.5", "oil side against flow", weak=True)
    air_exponent: float = quantity("number", "0", "1", "0.6", "air side against speed", weak=True)
    viscosity_exponent: float = quantity("number", "0", "0.5", "0.2", "oil side against thinner oil", weak=True)
    face_area: float = quantity("area", "20 cm2", "5000 cm2", "600 cm2", "core face")
    blockage: float = quantity("number", "0", "0.95", "0", "share of the core blocked by mud")
    air_speed_share: float = quantity("number", "0", "1", "0.25", "face air speed over vehicle speed", weak=True)
    preheat: float = quantity("temperature difference", "0 K", "40 K", "10 K", "air heated by a core before", weak=True)
    still_air_conductance: float = quantity(
        "conductance", "0 W/K", "30 W/K", "3 W/K", "of the core in still air", weak=True
    )
    fan_air_speed: float = quantity("air speed", "0 m/s", "15 m/s", "0 m/s", "face air speed by the fan; 0 for none")
    fan_on_temperature: float | None = quantity("temperature", "20 degC", "150 degC", None, "fan starts; else always")
    fan_off_temperature: float | None = quantity("temperature", "10 degC", "145 degC", None, "fan stops")
    thermostat_open_temperature: float | None = quantity("temperature", "20 degC", "150 degC", None, "core opens")
    thermostat_shut_temperature: float | None = quantity("temperature", "10 degC", "145 degC", None, "core shuts")


class FeedLine(Spec):
    """The line from the tank to the pump, with its strainer and a sight glass."""

    bore: float = quantity("short length", "6 mm", "60 mm", "22.2 mm", "inner diameter")
    length: float = quantity("length", "0.05 m", "6 m", "1.2 m", "length")
    loss_coefficient: float = quantity("number", "0", "20", "2.5", "entrance, bends and fittings")
    roughness: float = quantity("short length", "0 mm", "0.5 mm", "0.01 mm", "wall roughness")
    strainer_drop: float = quantity("pressure difference", "0 kPa", "20 kPa", "0.5 kPa", "clean strainer, rated")
    strainer_rated_flow: float = quantity("flow", "5 L/min", "120 L/min", "38 L/min", "flow of the rating")
    strainer_rated_viscosity: float = quantity(
        "viscosity", "5 mm2/s", "60 mm2/s", "15 mm2/s", "viscosity of the rating"
    )
    pump_forward: float = quantity(
        "length", "-5 m", "5 m", "0 m", "pump inlet from the tank outlet", sign="positive: pump further forward"
    )
    pump_left: float = quantity(
        "length", "-5 m", "5 m", "0 m", "pump inlet from the tank outlet", sign="positive: pump further left"
    )
    sight_glass_depth: float = quantity(
        "short length", "3 mm", "60 mm", "20 mm", "way of the light through a sight glass"
    )


class Surroundings(Spec):
    """What is around the parts: engine bay and engine block."""

    bay_offset: float = quantity(
        "temperature difference", "0 K", "60 K", "25 K", "bay over ambient, driving", weak=True
    )
    stop_rise: float = quantity("temperature difference", "0 K", "60 K", "15 K", "more when standing", weak=True)
    bay_settling_time: float = quantity("time", "10 s", "1 h", "3 min", "time constant of the bay", weak=True)
    block_temperature: float = quantity("temperature", "-40 degC", "130 degC", "95 degC", "engine block when warm")
    block_warming_time: float = quantity("time", "10 s", "1 h", "6 min", "of the block, engine on", weak=True)
    block_cooling_time: float = quantity("time", "1 min", "10 h", "1.5 h", "of the block, engine off", weak=True)
    ring_conductance: float = quantity("conductance", "0 W/K", "10 W/K", "0.5 W/K", "along the lines", weak=True)
    wet_factor: float = quantity(
        "number", "1", "100", "10", "times more heat off in the water of a crossing", weak=True
    )


class Air(Spec):
    """Air between air space and oil, and bubbles in the oil."""

    model: Literal["frozen", "kinetic", "equilibrium"] = Field(
        default="kinetic",
        description="how fast air goes in and out of solution: not at all, at the times given, at once",
    )
    transfer_velocity: float = quantity(
        "air speed", "1e-6 m/s", "2e-3 m/s", "2e-5 m/s", "air through a calm oil surface", weak=True
    )
    rough_ground_factor: float = quantity("number", "1", "30", "10", "times more on rough ground", weak=True)
    rest_factor: float = quantity("number", "0.01", "1", "0.1", "times that with the engine off", weak=True)
    slosh_factor: float = quantity("number", "1", "10", "3", "times more gas drawn in on rough ground", weak=True)
    bubble_diameter: float = quantity("short length", "0.05 mm", "2 mm", "0.3 mm", "of bubbles in the tank", weak=True)
    sheared_bubble_diameter: float = quantity(
        "short length", "0.02 mm", "1 mm", "0.1 mm", "of bubbles that went through the pump", weak=True
    )
    diffusivity: float = quantity("diffusivity", "5e-11 m2/s", "5e-9 m2/s", "5e-10 m2/s", "air in oil", weak=True)
    release_threshold: float = quantity(
        "pressure difference", "0 kPa", "50 kPa", "5 kPa", "oversaturation from which bubbles form", weak=True
    )
    tank_release_time: float = quantity("time", "1 s", "1 h", "60 s", "of bubbles forming in the tank", weak=True)
    line_release_time: float = quantity("time", "0.05 s", "60 s", "1 s", "of bubbles forming in the lines", weak=True)
    bleeding_cycles: float = quantity(
        "number", "0.5", "100", "5", "lock-to-lock cycles that bring out 63 % of the trapped air", weak=True
    )
