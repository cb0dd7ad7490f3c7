import math

import pytest

from support import truck
from ullage.kernel.params import FIELDS
from ullage.physics import oil, pump
from ullage.scenario.circuit import initial_gas
from ullage.scenario.parameters import make_parameters

TURN = 28e-6 / (2.0 * math.pi)
FIT_DENSITY = oil.density(313.15, 870.0)


def record(changes=None, tolerance_factor=1.0):
    """Return the parameters of the test truck."""
    return make_parameters(truck(changes).spec, tolerance_factor)


@pytest.mark.parametrize(
    ("changes", "field", "expected"),
    [
        ({}, "tank_volume", 7.6e-3),
        ({}, "displacement", TURN),
        ({}, "set_flow", 38e-3 / 60.0),
        ({"pump.controlled_flow": None}, "set_flow", math.inf),
        ({}, "bypass_to_reservoir", 0.0),
        ({"pump.bypass_routing": "reservoir"}, "bypass_to_reservoir", 1.0),
        ({}, "relief_place", 0.0),
        ({"pump.relief_location": "steering_gear"}, "relief_place", 1.0),
        ({"pump.relief_location": "reservoir"}, "relief_place", 2.0),
        ({}, "cap_kind", 0.0),
        ({"cap.kind": "vented"}, "cap_kind", 1.0),
        ({"cap.relief_pressure": 1e5}, "relief_crack", 1e5),
        ({"cap.relief_pressure": 1e5, "cap.full_lift_rise": 2e4}, "relief_full", 1.2e5),
        ({"cap.relief_pressure": 1e5, "cap.reseat_drop": 0.2}, "relief_reseat", 8e4),
        ({"cap.vacuum_pressure": 4e3}, "vacuum_crack", 4e3),
        ({"cap.vacuum_pressure": 4e3}, "vacuum_full", 8e3),
        ({"cap.vacuum_pressure": 4e3, "cap.reseat_drop": 0.2}, "vacuum_reseat", 3.2e3),
        ({"cap.relief_area": 3e-5, "cap.discharge_coefficient": 0.5}, "relief_area", 1.5e-5),
        ({"cap.vacuum_area": 3e-5}, "vacuum_area", 2.1e-5),
        ({"cap.breather_area": 3e-6}, "breather_area", 2.1e-6),
        ({"cap.neck_area": 3e-4}, "neck_area", 2.1e-4),
        ({"cap.weep_diameter": "0.2 mm"}, "weep_area", 0.7 * math.pi * 0.01e-6),
        ({"air.transfer_velocity": 3e-5}, "transfer_velocity", 3e-5),
        ({"air.rough_ground_factor": 4}, "rough_ground_factor", 4.0),
        ({}, "mark", 0.8),
        ({"reservoir.outlet_forward": "-5 cm"}, "outlet_forward", -0.05),
        ({"reservoir.outlet_left": "-5 cm"}, "outlet_left", -0.05),
        ({"return_line.port_level": 0.9}, "return_port_level", 0.9),
        ({"return_line.entrainment": 0.002}, "entrainment", 0.002),
        ({"return_line.plunging_entrainment": 0.05}, "plunging_entrainment", 0.05),
        ({"feed_line.strainer_drop": "2 kPa"}, "strainer_drop", 2e3),
        ({"feed_line.strainer_rated_flow": "60 L/min"}, "strainer_flow", 1e-3),
        ({"feed_line.strainer_rated_viscosity": "30 mm2/s"}, "strainer_viscosity", 3e-5),
        ({"feed_line.pump_forward": "2 m"}, "pump_forward", 2.0),
        ({"feed_line.pump_left": "-1 m"}, "pump_left", -1.0),
        ({"feed_line.sight_glass_depth": "1 cm"}, "sight_glass_depth", 0.01),
        ({"air.slosh_factor": 4}, "slosh_factor", 4.0),
        ({"air.bubble_diameter": "0.5 mm"}, "bubble_diameter", 5e-4),
        ({"air.sheared_bubble_diameter": "50 um"}, "sheared_bubble_diameter", 5e-5),
        ({"air.bleeding_cycles": 8}, "bleeding_cycles", 8.0),
        ({"reservoir.rating": "2 barg"}, "tank_rating", 2e5),
        ({"pump.seal_rating": "1.5 barg"}, "seal_rating", 1.5e5),
        ({}, "fan_on", math.inf),
        ({"cooler.fan_air_speed": 3.0}, "fan_on", -math.inf),
        ({"cooler.fan_air_speed": 3.0}, "fan_off", -math.inf),
        ({}, "thermostat_open", -math.inf),
        ({}, "thermostat_shut", -math.inf),
    ],
)
def test_value_reaches_its_field_in_si(changes, field, expected):
    assert getattr(record(changes), field) == pytest.approx(expected, rel=1e-13)  # rounding


def test_fan_with_a_thermostat_keeps_its_settings_and_without_a_fan_never_starts():
    settings = {"cooler.fan_on_temperature": 350.0, "cooler.fan_off_temperature": 340.0}
    assert [getattr(record(settings), name) for name in ("fan_on", "fan_off")] == [math.inf, -math.inf]
    assert [record({**settings, "cooler.fan_air_speed": 3.0})[name] for name in ("fan_on", "fan_off")] == [350.0, 340.0]


def test_every_field_is_a_number():
    values = record()
    assert all(not math.isnan(values[name]) for name in FIELDS)
    unlimited = {name for name in FIELDS if math.isinf(values[name])}
    assert unlimited == {"fan_on", "fan_off", "thermostat_open", "thermostat_shut"}


EXCHANGE = ("transfer_velocity", "air_diffusivity", "tank_release_rate", "line_release_rate")
GIVEN = {
    "air.transfer_velocity": 3e-5,
    "air.diffusivity": 7e-10,
    "air.tank_release_time": "20 s",
    "air.line_release_time": "0.5 s",
    "air.release_threshold": "3 kPa",
    "air.rough_ground_factor": 7,
    "air.rest_factor": 0.2,
}


def test_kinetic_air_moves_at_the_times_given():
    p = record(GIVEN)
    assert [p[name] for name in EXCHANGE] == pytest.approx([3e-5, 7e-10, 0.05, 2.0], rel=1e-15)
    assert (p.release_threshold, p.rough_ground_factor, p.rest_factor) == (3e3, 7.0, 0.2)
    assert [record({**GIVEN, "air.model": "kinetic"})[name] for name in FIELDS] == [p[name] for name in FIELDS]


def test_frozen_air_does_not_move_and_all_else_is_as_it_was():
    p, kinetic = record({**GIVEN, "air.model": "frozen"}), record(GIVEN)
    assert [p[name] for name in EXCHANGE] == [0.0] * 4
    assert all(p[name] == kinetic[name] for name in FIELDS if name not in EXCHANGE)


def test_air_in_equilibrium_follows_within_a_tenth_of_a_second_wherever_the_truck_is():
    p = record({**GIVEN, "air.model": "equilibrium"})
    oil_volume = initial_gas(truck().spec).oil_mass / 870.0
    assert p.transfer_velocity * p.surface_area / oil_volume == pytest.approx(10.0, rel=1e-14)  # rounding
    assert (p.rough_ground_factor, p.rest_factor, p.release_threshold) == (1.0, 1.0, 0.0)
    assert (p.tank_release_rate, p.line_release_rate, p.air_diffusivity) == (1000.0, 1000.0, 7e-10)


@pytest.mark.parametrize(("interval", "length"), [("10 ms", 1.2), ("0.1 s", 1.2), ("0.11 s", 0.0), ("1 s", 0.0)])
def test_oil_in_the_line_has_inertia_only_where_samples_show_it(interval, length):
    assert record({"duty.sample_interval": interval}).inertia_length == length


def test_oil_in_the_line_has_no_inertia_where_speeds_are_drawn_at_whole_seconds():
    drawn = {"duty.segment": [{"duration": "60 s", "engine_speed": "3000 rpm", "engine_speed_spread": "200 rpm"}]}
    assert record({"duty.sample_interval": "0.1 s", "duty.seed": 1, **drawn}).inertia_length == 0.0


def test_flow_point_gives_the_slip_that_brings_its_flow():
    point = {"speed": 150.0, "pressure": 5e6, "flow": "35 L/min", "viscosity": 3e-5}
    slip = record({"pump.flow_point": point}).slip_coefficient
    flow = TURN * 150.0 - pump.slip_flow(slip, TURN, 5e6, 3e-5 * FIT_DENSITY)
    assert flow == pytest.approx(35e-3 / 60.0, rel=1e-13)  # the law inverted; rounding
    assert record().slip_coefficient == 1e-8


def test_torque_point_gives_the_friction_that_brings_its_torque():
    point = {"speed": 150.0, "pressure": 5e6, "torque": 26.0, "viscosity": 3e-5}
    p = record({"pump.torque_point": point})
    found = pump.shaft_torque(TURN, 5e6, 3e-5 * FIT_DENSITY, 150.0, p.friction, p.viscous_drag, p.idle_torque)
    torque = found if isinstance(found, float) else found[0]
    assert torque == pytest.approx(26.0, rel=1e-9)  # dry friction is smoothed near standstill; none at 150 rad/s
    assert record().friction == 0.06


@pytest.mark.parametrize("factor", [1e-4, 0.1, 1.0, 10.0])
def test_tolerance_factor_moves_all_tolerances_and_tightens_that_of_the_oil_more(factor):
    one, other = record(), record(tolerance_factor=factor)
    moved = {"temperature_tolerance": min(factor, factor**1.5), "pressure_tolerance": factor, "mass_tolerance": factor}
    for name in FIELDS:
        assert other[name] == pytest.approx(moved.get(name, 1.0) * one[name], rel=1e-15)  # two products
    assert sum(name.endswith("_tolerance") for name in FIELDS) == 3


def test_viscosity_lines_pass_through_the_points_given():
    p = record({"fluid.cold_temperature": "-20 degC", "fluid.cold_viscosity": "900 mm2/s"})
    for temperature, expected, line in (
        (253.15, 900e-6, (p.cold_viscosity_constant, p.cold_viscosity_slope)),
        (313.15, 34e-6, (p.cold_viscosity_constant, p.cold_viscosity_slope)),
        (313.15, 34e-6, (p.viscosity_constant, p.viscosity_slope)),
        (373.15, 7.3e-6, (p.viscosity_constant, p.viscosity_slope)),
    ):
        # Rounding, enlarged by the double exponential of the law.
        assert oil.kinematic_viscosity(temperature, *line) == pytest.approx(expected, rel=1e-11)


def test_without_a_cold_point_both_lines_are_one():
    p = record()
    assert (p.cold_viscosity_constant, p.cold_viscosity_slope) == (p.viscosity_constant, p.viscosity_slope)
