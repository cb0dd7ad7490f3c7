"""Rules that keys must keep among each other, whatever the race makes of them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ullage.scenario.checks import Found, Rule, rule
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.settings import fluid_grade
from ullage.units import show, show_both

KEY_RULES: list[Rule] = []

_MOST_SEGMENTS = 200_000
_RATING = 'is a rating over ambient: write it as gauge, such as "2.5 barg"'


@rule(KEY_RULES, "fluid.preset", "fluid.viscosity_40", "fluid.viscosity_100", "fluid.density_15")
def _oil(spec: ScenarioSpec) -> Iterator[Found]:
    fluid = spec.fluid
    if fluid.preset is None and None in (fluid.viscosity_40, fluid.viscosity_100, fluid.density_15):
        yield ("fluid",), "give a preset, or viscosity_40, viscosity_100 and density_15"


@rule(KEY_RULES, "fluid.preset", "fluid.viscosity_40", "fluid.viscosity_100")
def _hot_viscosity(spec: ScenarioSpec) -> Iterator[Found]:
    grade = fluid_grade(spec.fluid)
    if grade.viscosity_100 >= grade.viscosity_40 > 0.0:
        yield ("fluid", "viscosity_100"), f"must be below viscosity_40, {show(grade.viscosity_40, 'viscosity')}"


@rule(KEY_RULES, "fluid.cold_temperature", "fluid.cold_viscosity")
def _cold_point(spec: ScenarioSpec) -> Iterator[Found]:
    if (spec.fluid.cold_temperature is None) != (spec.fluid.cold_viscosity is None):
        absent = "cold_temperature" if spec.fluid.cold_temperature is None else "cold_viscosity"
        yield ("fluid", absent), "missing: cold_temperature and cold_viscosity belong together"


@rule(KEY_RULES, "fluid.preset", "fluid.viscosity_40", "fluid.cold_temperature", "fluid.cold_viscosity")
def _cold_viscosity(spec: ScenarioSpec) -> Iterator[Found]:
    fluid = spec.fluid
    thin = fluid_grade(fluid).viscosity_40
    if None not in (fluid.cold_temperature, fluid.cold_viscosity) and (fluid.cold_viscosity or 0.0) <= thin:
        yield ("fluid", "cold_viscosity"), f"must be above viscosity_40, {show(thin, 'viscosity')}"


@rule(KEY_RULES, "pump.controlled_flow", "pump.bypass_routing")
def _bypass(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.pump.controlled_flow is not None and spec.pump.bypass_routing is None:
        yield ("pump", "bypass_routing"), "missing: say where the flow control sends its bypass, 'inlet' or 'reservoir'"


@rule(KEY_RULES, "pump.minimum_inlet_pressure", "pump.rating_elevation")
def _inlet_rating(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.pump.minimum_inlet_pressure.gauge and spec.pump.rating_elevation is None:
        text = 'is over ambient: say where with rating_elevation, or write it as absolute, such as "55 kPaa"'
        yield ("pump", "minimum_inlet_pressure"), text


@rule(KEY_RULES, "pump.displacement", "pump.flow_point.flow", "pump.flow_point.speed")
def _flow_point(spec: ScenarioSpec) -> Iterator[Found]:
    point = spec.pump.flow_point
    if point is not None and point.flow >= spec.pump.displacement / (2.0 * math.pi) * point.speed:
        yield ("pump", "flow_point", "flow"), "is not below displacement times speed: no slip can be found"


@rule(KEY_RULES, "pump.flow_point", "pump.slip_coefficient")
def _slip_twice(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.pump.flow_point is not None and "slip_coefficient" in spec.pump.model_fields_set:
        yield ("pump", "slip_coefficient"), "is found from flow_point; give one of the two"


@rule(KEY_RULES, "pump.torque_point", "pump.friction")
def _friction_twice(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.pump.torque_point is not None and "friction" in spec.pump.model_fields_set:
        yield ("pump", "friction"), "is found from torque_point; give one of the two"


@rule(KEY_RULES, "cooler.fan_on_temperature", "cooler.fan_off_temperature")
def _fan(spec: ScenarioSpec) -> Iterator[Found]:
    return _switch(spec, "fan_on_temperature", "fan_off_temperature")


@rule(KEY_RULES, "cooler.thermostat_open_temperature", "cooler.thermostat_shut_temperature")
def _thermostat(spec: ScenarioSpec) -> Iterator[Found]:
    return _switch(spec, "thermostat_open_temperature", "thermostat_shut_temperature")


def _switch(spec: ScenarioSpec, high: str, low: str) -> Iterator[Found]:
    upper, lower = getattr(spec.cooler, high), getattr(spec.cooler, low)
    if (upper is None) != (lower is None):
        yield ("cooler", high), f"{high} and {low} belong together"
    elif upper is not None and upper < lower + 0.5:
        yield ("cooler", low), f"must be at least 0.5 K below {high}, {show_both(upper, 'temperature')}"


@rule(KEY_RULES, "reservoir.rating")
def _tank_rating(spec: ScenarioSpec) -> Iterator[Found]:
    if not spec.reservoir.rating.gauge:
        yield ("reservoir", "rating"), _RATING


@rule(KEY_RULES, "pump.seal_rating")
def _seal_rating(spec: ScenarioSpec) -> Iterator[Found]:
    if not spec.pump.seal_rating.gauge:
        yield ("pump", "seal_rating"), _RATING


@rule(KEY_RULES, "duty.segment", "duty.recording", "duty.track")
def _lap(spec: ScenarioSpec) -> Iterator[Found]:
    if not spec.duty.segment and spec.duty.recording is None and spec.duty.track is None:
        yield ("duty", "segment"), "missing: a lap needs segments, or a recording in their place"
    if spec.duty.segment and spec.duty.recording is not None:
        yield ("duty", "recording"), "stands in place of segments; give one of the two"


@rule(KEY_RULES, "duty.segment.length", "duty.segment.duration", each="duty.segment")
def _segment_extent(spec: ScenarioSpec) -> Iterator[Found]:
    for place, segment in enumerate(spec.duty.segment):
        if (segment.length is None) == (segment.duration is None):
            yield ("duty", "segment", place), "give either length or duration"


@rule(
    KEY_RULES,
    "duty.segment.length",
    "duty.segment.duration",
    "duty.segment.vehicle_speed",
    "duty.segment.vehicle_speed_low",
    "duty.segment.vehicle_speed_high",
    "duty.track",
    each="duty.segment",
)
def _segment_speed(spec: ScenarioSpec) -> Iterator[Found]:
    if spec.duty.track is not None and spec.duty.track.speed == "track":
        return
    for place, segment in enumerate(spec.duty.segment):
        if segment.length is None or segment.duration is not None or segment.vehicle_speed_low is not None:
            continue
        if not segment.vehicle_speed and segment.vehicle_speed_high is None:
            absent = segment.vehicle_speed is None
            text = "missing: a length needs a speed" if absent else "is no speed for a segment with a length"
            yield ("duty", "segment", place, "vehicle_speed"), text


@rule(KEY_RULES, "duty.laps")
def _size(spec: ScenarioSpec) -> Iterator[Found]:
    count = spec.duty.laps * len(spec.duty.segment)
    if count > _MOST_SEGMENTS:
        yield ("duty", "laps"), f"makes a race of {count} segments; the limit is {_MOST_SEGMENTS}"


@rule(KEY_RULES, "start.trapped_air", "steering_gear.oil_volume")
def _trapped_air(spec: ScenarioSpec) -> Iterator[Found]:
    room = spec.steering_gear.oil_volume
    if spec.start.trapped_air >= room:
        yield ("start", "trapped_air"), f"must be less than steering_gear.oil_volume, {show_both(room, 'volume')}"
