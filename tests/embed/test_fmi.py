import itertools
from xml.etree import ElementTree

import numpy as np
import pytest
from fmpy import simulate_fmu
from fmpy.validation import validate_fmu

import ullage as ul
from embed.units import DRIVE, assert_same, differing, exported, outputs_of
from support import truck
from ullage.embed.accepted import ON_OR_OFF
from ullage.kernel.inputs import FIRST_HELD, INPUTS
from ullage.kernel.settings import SETTINGS
from ullage.scenario.settings import SETTING_KEYS, settings_of

pytestmark = pytest.mark.export

# the cap is no vented one, the tank not full to the neck, and the port either well covered or bare
WITHOUT_EFFECT = {"cap.breather_area", "reservoir.splash_volume", "return_line.port_level"}
FOUND_FROM_POINTS = {"pump.slip_coefficient", "pump.friction"}
CHOICES = {"cap.kind", "pump.bypass_routing", "pump.relief_location", "air.model"}
FROM_THE_RACE = {"feed_inertia", "tolerance_factor"}
OVER_AMBIENT = ("reservoir.rating", "pump.seal_rating", "start.headspace_pressure")


def taken(stepper, **values):
    """Let a stepper take inputs over at once, as a unit takes what is set before a step."""
    stepper.advance(0.0, inputs={name: float(value) for name, value in values.items()})


def both_driven(instance, stepper, drive=DRIVE):
    for seconds, values in drive:
        instance.step(seconds, **values)
        taken(stepper, **values)
        stepper.advance(seconds)
        assert_same(instance, stepper)


def test_description_is_valid_and_variables_are_those_of_a_stepper(unit_file):
    assert validate_fmu(str(unit_file.path)) == []
    assert unit_file.named("input") == [*INPUTS]
    names = unit_file.named("output")
    assert {*outputs_of(ul.Stepper(unit_file.scenario), names)} == {*names}
    assert {name.partition(".")[0] for name in names} | {*INPUTS, "time"} >= {*ul.Stepper(truck()).outputs.dtype.names}
    assert {*unit_file.named("parameter")} == {*SETTING_KEYS.values()} - CHOICES - FOUND_FROM_POINTS | FROM_THE_RACE


def test_parameters_are_what_the_scenario_has_and_points_of_the_pump_do_not_stand_over(tmp_path):
    plain = exported(truck(), tmp_path)
    missing = {*SETTING_KEYS.values()} - CHOICES - {*plain.named("parameter")}
    assert missing >= {"pump.flow_point.flow", "pump.torque_point.torque", "cooler.thermostat_open_temperature"}
    assert not missing & (FOUND_FROM_POINTS | {"cap.relief_pressure"})


def test_display_units_are_what_other_tools_take_them_for(unit_file):
    # by definition: pound 0.45359237 kg, inch 25.4 mm, gn 9.80665 m/s2, BTU(IT) 1055.05585262 J, US gallon 231 in3
    psi, inch = 0.45359237 * 9.80665 / 0.0254**2, 0.0254
    expected = {
        ("Pa", "psi"): (1.0 / psi, 0.0),
        ("K", "degC"): (1.0, -273.15),
        ("K", "degF"): (1.8, -459.67),
        ("W/K", "BTU/h/degF"): (3600.0 / 1055.05585262 / 1.8, 0.0),
        ("m3/s", "gpm"): (60.0 / (231.0 * inch**3), 0.0),
        ("m/s", "km/h"): (3.6, 0.0),
        ("rad/s", "rpm"): (30.0 / np.pi, 0.0),
    }
    units = {unit.name: unit for unit in unit_file.description.unitDefinitions}
    for (name, shown), (factor, offset) in expected.items():
        (found,) = (display for display in units[name].displayUnits if display.name == shown)
        # 15 digits are written; the BTU is known to ten
        assert (float(found.factor), float(found.offset)) == (pytest.approx(factor, rel=1e-9), offset)
    base = units["Pa"].baseUnit
    assert (int(base.kg), int(base.m), int(base.s), float(base.factor)) == (1, -1, -2, 1.0)
    listed = ElementTree.parse(unit_file.folder / "modelDescription.xml").iter("ScalarVariable")
    differences = {variable.get("name") for variable in listed if variable[0].get("relativeQuantity") == "true"}
    assert differences == {"cooler.preheat", "surroundings.bay_offset", "surroundings.stop_rise"}


def test_start_values_are_those_of_the_scenario(unit_file, instances):
    stepper, settings = ul.Stepper(unit_file.scenario), settings_of(unit_file.scenario.spec)
    instance = instances()
    expected = {name: stepper.inputs[name] for name in INPUTS}
    expected |= {SETTING_KEYS.get(name, name): settings[name] for name in SETTINGS}
    for name in unit_file.named("input") + unit_file.named("parameter"):
        assert instance.get(name) == expected[name]
        start = unit_file.variables[name].start
        assert (start == "true" if start in ("true", "false") else float(start)) == expected[name]
    assert_same(instance.begin(), stepper)


def test_inputs_that_jump_give_what_a_stepper_gives_to_the_last_bit(unit_file, instances):
    both_driven(instances().begin(), ul.Stepper(unit_file.scenario))


def test_inputs_with_slopes_give_what_a_stepper_gives_to_the_last_bit(unit_file, instances):
    instance, stepper = instances().begin(), ul.Stepper(unit_file.scenario)
    values = {"engine_speed": 100.0, "vehicle_speed": 0.0, "steering_load": 0.0, "elevation": 900.0}
    slopes = {"engine_speed": 7.0, "vehicle_speed": 0.3, "steering_load": 1e5, "elevation": -3.3}
    for _ in range(50):
        instance.set_all(values)
        taken(stepper, **values)
        instance.slope(**slopes)
        values = {name: value + 0.7 * slopes[name] for name, value in values.items()}
        instance.step(0.7)
        stepper.advance(0.7, inputs=values)
        assert_same(instance, stepper)
    instance.step(0.7)
    stepper.advance(0.7)
    assert_same(instance, stepper)  # a slope holds for one step


def on_or_number(name, value):
    return bool(value) if name in ON_OR_OFF else float(value)


def test_own_race_is_that_of_a_stepper_to_the_last_bit_and_near_that_of_simulate(tmp_path, instances):
    events = [{"time": "100 s", "action": "cap off"}, {"time": "160 s", "action": "cap on"}]
    events += [{"time": "200 s", "action": "fault on", "fault": "blocked cooler", "share": 0.4}]
    scenario = truck({"event": events})
    instance, stepper = instances(exported(scenario, tmp_path)).begin(), ul.Stepper(scenario)
    linear = INPUTS[:FIRST_HELD]
    for before, after in itertools.pairwise(ul.race_inputs(scenario)):
        seconds = after["time"] - before["time"]
        if seconds == 0.0:
            continue
        first = {name: float(before[name]) for name in linear}
        first |= {name: on_or_number(name, after[name]) for name in INPUTS[FIRST_HELD:]}
        slopes = {name: (after[name] - before[name]) / seconds for name in linear}
        instance.set_all(first)
        instance.slope(**slopes)
        instance.step(seconds)
        taken(stepper, **first)
        stepper.advance(seconds, inputs={name: first[name] + seconds * slopes[name] for name in linear})
        assert_same(instance, stepper)
    run, found = ul.simulate(scenario).isel(time=-1), instance.outputs()
    # what the stepper promises beside a race
    assert found["oil_temperature.pump"] == pytest.approx(float(run.oil_temperature.sel(node="pump")), abs=0.02)
    assert found["headspace_pressure"] == pytest.approx(float(run.headspace_pressure), abs=50.0)


def other_value(scenario, variable):
    """Return a scenario with another value for a key, as far as its checks allow, and its settings."""
    low, high, start = float(variable.min), float(variable.max), float(variable.start)
    for share in (0.05, 0.01, 0.001):
        for limit in sorted((low, high), key=lambda limit: -abs(limit - start)):
            value = start + share * (limit - start)
            suffix = "kPaa" if variable.name == "pump.minimum_inlet_pressure" else "kPag"
            is_level = suffix == "kPaa" or variable.name in OVER_AMBIENT
            try:
                changed = scenario.replace({variable.name: f"{value / 1e3!r} {suffix}" if is_level else value})
            except ul.ScenarioError:
                continue
            return changed, settings_of(changed.spec)
    raise AssertionError(f"no other value of {variable.name}")


def test_each_parameter_is_what_its_key_is_in_a_scenario_to_the_last_bit(unit_file, instances):
    fields = {key: field for field, key in SETTING_KEYS.items()}
    instance, idle = instances(), set()
    untouched = list(driven_outputs(instance.begin()))
    for name in {*unit_file.named("parameter")} - FROM_THE_RACE:
        scenario, settings = other_value(unit_file.scenario, unit_file.variables[name])
        stepper = ul.Stepper(scenario)
        instance.slave.reset()
        # a race begins where and with what the scenario says, and so do the inputs
        race = {key: stepper.inputs[key] for key in ("elevation", "water_content", "ambient_temperature")}
        instance.begin({name: settings[fields[name]]} | race)
        found = []
        for seconds, values in DRIVE:
            taken(stepper, **values)
            stepper.advance(seconds)
            instance.step(seconds, **values)
            found.append(instance.outputs())
            assert differing(found[-1], outputs_of(stepper, found[-1])) == {}, name
        if not any(differing(one, other) for one, other in zip(found, untouched, strict=True)):
            idle.add(name)
    assert idle <= WITHOUT_EFFECT


def driven_outputs(instance):
    for seconds, values in DRIVE:
        instance.step(seconds, **values)
        yield instance.outputs()


@pytest.mark.parametrize(
    ("name", "value", "changes", "factor"),
    [("feed_inertia", 1.0, {"duty.sample_interval": "0.1 s"}, 1.0), ("tolerance_factor", 0.1, {}, 0.1)],
)
def test_what_is_no_key_is_what_it_is_in_a_stepper(unit_file, instances, name, value, changes, factor):
    stepper = ul.Stepper(unit_file.scenario.replace(changes), tolerance_factor=factor)
    both_driven(instances().begin({name: value}), stepper, [(0.1, {"engine_speed": 400.0}), (0.1, {}), (0.1, {})])


def test_fmpy_runs_the_unit_over_a_table_of_inputs(unit_file):
    stepper = ul.Stepper(unit_file.scenario.replace({"cap.relief_pressure": 9e4}))
    linear = INPUTS[:FIRST_HELD]
    start = np.array([stepper.inputs[name] for name in linear])
    rise = np.array([200.0, 10.0, 2e6, 0.5, 100.0, 5.0, 1.0, -1.0, 0.5])
    at = {-10.0: start, 50.0: start + rise}  # FMPy has the slope on the left of a row, none at the ends
    table = np.array([(time, *row) for time, row in at.items()], dtype=[(name, float) for name in ("time", *linear)])
    names = ["headspace_pressure", "oil_temperature.pump"]
    found = simulate_fmu(  # it sets slopes while the unit is initialized as well
        str(unit_file.path),
        stop_time=40.0,
        output_interval=10.0,
        input=table,
        start_values={"cap.relief_pressure": 9e4},
        set_input_derivatives=True,
        output=names,
    )
    for row in found:
        inputs = {name: float(np.interp(row["time"], table["time"], table[name])) for name in linear}
        stepper.advance(float(row["time"]) - stepper.time, inputs=inputs)
        # rounding on the way: a slope times a length  # slopes round
        assert [row[name] for name in names] == pytest.approx([*outputs_of(stepper, names).values()], rel=1e-9)
    assert stepper.time == 40.0
