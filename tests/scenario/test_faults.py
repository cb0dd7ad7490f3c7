import pytest

from support import TRUCK, truck
from ullage.errors import ScenarioError
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import nested_spec, quantity_of
from ullage.scenario.load import Scenario
from ullage.scenario.recording_spec import LogFile
from ullage.scenario.track_spec import LapTrack
from ullage.scenario.tree import set_value, tree_of

PLANTED = '''\
# A wrong file; all data are invented.
format = 1
title = "Ironwood Flats # 7 [west] (invented data)"
notes = """
[pump]
fill = 9
"""

[fluid]
viscosity_40 = "30 mm2/s"
viscosity_100 = "30 mm2/s"
density_15 = "870 kg/m3"
bunsen_coefficient = nan
cold_viscosity = "900 mm2/s"

[reservoir]
volume = "7,6 L"
fill = "120 %"
rating = "2.5 bara"
compliance = "9 bar"

[cap]
kind = "seeled"
relief_presure = "16 psi"

[pump]
displacement = "28 cm3/rev"
controlled_flow = "10 GPM"
maximum_speed = "1000 RPM"

[cooler]
fan_on_temperature = "80 degC"
fan_off_temperature = "80 degC"
thermostat_open_temperature = "90F"
face_area = 600

[feed_line]
bore = "AN-16"
length = "4 feet"

[start]
headspace_pressure = "16 psi"
elevation = "99999 ft"
temperature = 1e400

[weather]
pressure_offset = "1 psig"
point = [
  { time = "1 h", temperature = "35 degC" },
  { time = "0:30:00", temperature = "35 degC" },
  { time = "2 h", temperature = "95 degF" },
  { time = "1 h", temperature = "35 degC" },
]

[duty]
laps = 2.5

[[duty.segment]]
duration = "10 min"
length = "5 km"
engine_speed = "4000 rpm"

[[duty.segment]]
length = "5 km"
engine_speed = "300 rad"
"steering_load" = "1e400 psi"

[[duty.stop]]
name = "pit"
after_lap = 1
duration = 2020-01-01

[[event]]
action = "cap off"
stop = "pti"

[[event]]
action = "top up"
time = "1 h"
volume = "1 quarts"
'''

FOUND = """\
f:4: notes: unknown key
f:9: fluid.cold_temperature: missing: cold_temperature and cold_viscosity belong together
f:11: fluid.viscosity_100: "30 mm2/s" must be below viscosity_40, 30 mm2/s
f:13: fluid.bunsen_coefficient: nan is not a finite number
f:17: reservoir.volume: "7,6 L": not a number with a unit (with a decimal point: "7.6 L"); a volume is wanted, such as "7.6 L" or "2 gal"
f:18: reservoir.fill: "120 %" is outside 30 % to 97 %
f:19: reservoir.rating: "2.5 bara" is a rating over ambient: write it as gauge, such as "2.5 barg"
f:20: reservoir.compliance: "9 bar": 'bar' is not a unit of this kind (did you mean "9 mL/bar"?); a compliance is wanted, such as "2e-10 m3/Pa"
f:23: cap.kind: must be 'sealed' or 'vented', got "seeled" (did you mean 'sealed'?)
f:24: cap.relief_presure: unknown key (did you mean 'relief_pressure'?)
f:27: pump.displacement: "28 cm3/rev": 'cm3/rev' is not a unit of this kind (did you mean "28 cm3"?); a volume is wanted, such as "7.6 L" or "2 gal"
f:28: pump.controlled_flow: "10 GPM": unknown unit 'GPM' (did you mean "10 gpm"?); a flow is wanted, such as "38 L/min" or "10 gpm"
f:29: pump.maximum_speed: "1000 RPM": unknown unit 'RPM' (did you mean "1000 rpm"?); a shaft speed is wanted, such as "4000 rpm"
f:33: cooler.fan_off_temperature: "80 degC" must be at least 0.5 K below fan_on_temperature, 80 degC (176 degF)
f:34: cooler.thermostat_open_temperature: "90F": unknown temperature unit 'F' (did you mean "90 degF"?); a temperature is wanted, such as "35 degC" or "95 degF"
f:35: cooler.face_area: 600 has no unit; an area is wanted, such as "210 cm2" or "33 in2"
f:38: feed_line.bore: "AN-16": not a number with a unit (a dash size counts sixteenths of an inch of a tube's outside: measure the inner diameter); a length is wanted, such as "22 mm" or "0.875 in"
f:39: feed_line.length: "4 feet": unknown unit 'feet' (did you mean "4 ft"?); a length is wanted, such as "1.2 m" or "4 ft"
f:42: start.headspace_pressure: "16 psi": 'psi' does not say which pressure level (did you mean "16 psig" or "16 psia"?); a pressure level is wanted, such as "5 psig", "16 psia" or "2 inHg vac"
f:43: start.elevation: "99999 ft" is outside -1312 ft to 16400 ft
f:44: start.temperature: inf is not a finite number
f:47: weather.pressure_offset: "1 psig": 'psig' is a pressure level (did you mean "1 psi"?); a pressure difference is wanted, such as "16 psi" or "1.1 bar"
f:50: weather.point.1.time: "0:30:00": not a number with a unit (write "0 h 30 min 0 s"); a time is wanted, such as "90 s" or "2 h 31 min"
f:52: weather.point.3.time: "1 h" is not after the point before, at 2:00:00: put the points in order of time
f:56: duty.laps: must be a whole number from 1 to 1000, got 2.5
f:58: duty.segment.0: give either length or duration
f:63: duty.segment.1.vehicle_speed: missing: a length needs a speed
f:65: duty.segment.1.engine_speed: "300 rad": 'rad' is not a unit of this kind (did you mean "300 rad/s"?); a shaft speed is wanted, such as "4000 rpm"
f:66: duty.segment.1.steering_load: "1e400 psi" is not a finite number
f:71: duty.stop.0.duration: 2020-01-01 is not text with a unit; a time is wanted, such as "90 s" or "2 h 31 min"
f:75: event.0.stop: "pti" is no stop; there are: pit (did you mean 'pit'?)
f:78: event.1.action: must be 'cap off', 'cap on', 'top-up', 'recharge', 'fan on', 'fan auto', 'engine off', 'engine on', 'fault on' or 'fault off', got "top up" (did you mean 'top-up'?)
"""  # noqa: E501 - one sentence a line, as printed


def faults_of(call, *arguments):
    """Return the faults that a call raises."""
    with pytest.raises(ScenarioError) as caught:
        call(*arguments)
    return caught.value.faults


def test_wrong_file_says_everything_that_is_wrong_with_it_and_nothing_else():
    assert "".join(f"{fault}\n" for fault in faults_of(Scenario.from_toml, PLANTED, "f")) == FOUND


def test_record_of_a_fault_holds_file_line_key_and_text():
    (fault,) = faults_of(Scenario.from_toml, truck().to_toml().replace("fill = 0.8", "fill = 8"), "f")
    line = truck().to_toml().split("\n").index("fill = 0.8") + 1
    assert fault._asdict() == {
        "file": "f",
        "line": line,
        "key": "reservoir.fill",
        "text": "8 is outside 0.3 to 0.97",
    }


def keys_of(model, prefix=""):
    """Go through the dotted keys of all values of a specification, the first element standing for an array."""
    for name in model.model_fields:
        inner = nested_spec(model, name)
        if inner and issubclass(inner, LogFile | LapTrack):
            continue  # they need files, and their faults have tests of their own
        if inner is None:
            yield f"{prefix}{name}", quantity_of(model, name)
        else:
            array = "tuple" in str(model.model_fields[name].annotation)
            yield from keys_of(inner, f"{prefix}{name}{'.0' if array else ''}.")


POINT = {"speed": "1000 rpm", "pressure": "50 bar", "viscosity": "30 mm2/s"}
FULL = {
    **TRUCK,
    "fluid": {"viscosity_40": "34 mm2/s", "viscosity_100": "7 mm2/s", "density_15": "870 kg/m3"}
    | {"cold_temperature": "-20 degC", "cold_viscosity": "900 mm2/s"},
    "pump": TRUCK["pump"]
    | {"flow_point": {**POINT, "flow": "27.9 L/min"}, "torque_point": {**POINT, "torque": "25 N*m"}},
    "cooler": {"fan_on_temperature": "80 degC", "fan_off_temperature": "70 degC"}
    | {"thermostat_open_temperature": "80 degC", "thermostat_shut_temperature": "70 degC"},
    "weather": {"point": [{"time": "0 s", "temperature": "9 degC"}, {"time": "2 s", "temperature": "8 degC"}]},
    "duty": {**TRUCK["duty"], "stop": [{"name": "pit", "after_lap": 1, "duration": "1 min"}]}
    | {"gear": [{"vehicle_speed": "40 km/h", "engine_speed": "6000 rpm"}], "change": [{"steering_load_factor": 1.1}]},
    "event": [
        {"action": "cap off", "stop": "pit"},
        {"action": "top-up", "stop": "pit", "volume": "0.1 L"},
        {"action": "cap on", "stop": "pit", "after": "40 s"},
    ],
    "start": {"headspace_pressure": "0.5 barg"},
    "pit": {
        **{"stop": "pit", "recharge_pressure": "0.5 barg"},
        "choice": [
            {
                "name": "own",
                "stop_duration": "2 min",
                "event": [
                    {"action": "cap off"},
                    {"action": "top-up", "volume": "0.1 L", "after": "10 s"},
                    {"action": "cap on", "after": "90 s"},
                ],
            }
        ],
    },
}


def with_wrong(path, value):
    """Return the full truck with one value changed."""
    data = tree_of(FULL)
    set_value(data, path, value)
    return data


def test_wrong_truth_says_so_and_hides_no_other_fault():
    data = with_wrong("duty.stop.0.cooler_washed", "yes")
    set_value(data, "duty.stop.0.after_lap", 3)
    found = [(fault.key, fault.text) for fault in faults_of(Scenario.from_dict, data)]
    assert found == [
        ("duty.stop.0.cooler_washed", 'must be true or false, got "yes"'),
        ("duty.stop.0.after_lap", "3 is after the end: the race has 1 laps"),
    ]


def test_full_truck_is_right():
    assert Scenario.from_dict(FULL).spec.format == 1


@pytest.mark.parametrize("path", [path for path, _ in keys_of(ScenarioSpec)])
def test_one_wrong_value_is_one_fault_and_has_no_consequences(path):
    (fault,) = faults_of(Scenario.from_dict, with_wrong(path, [1]))
    assert fault.key == path
    assert "an array" in fault.text


@pytest.mark.parametrize("path", [path for path, quantity in keys_of(ScenarioSpec) if quantity])
def test_value_out_of_range_has_no_consequences_either(path):
    unit = dict(keys_of(ScenarioSpec))[path].high.partition(" ")[2]
    (fault,) = faults_of(Scenario.from_dict, with_wrong(path, f"1e12 {unit}"))
    assert fault.key == path
    assert " is outside " in fault.text


@pytest.mark.parametrize(
    "path", ["fluid", "reservoir", "cap", "pump", "duty", "duty.segment", "duty.stop", "event", "pit.choice"]
)
@pytest.mark.parametrize("value", [3, "x", [3], [[3]]], ids=str)
def test_value_where_a_table_is_wanted_is_one_fault(path, value):
    (fault,) = faults_of(Scenario.from_dict, with_wrong(path, value))
    assert fault.key in (path, f"{path}.0")
    assert fault.text.startswith(("must be a table, [", "must be an array of tables, [["))


@pytest.mark.parametrize("path", ["reservoir.volume", "reservoir", "cap.kind", "duty.segment", "pump.displacement"])
def test_misspelt_key_is_one_fault_and_the_right_one_is_not_missing(path):
    data = tree_of(FULL)
    *tables, last = path.split(".")
    table = data[tables[0]] if tables else data
    table[f"{last}s"] = table.pop(last)
    (fault,) = faults_of(Scenario.from_dict, data)
    assert (fault.key, fault.text) == (f"{path}s", f"unknown key (did you mean '{last}'?)")


@pytest.mark.parametrize(
    ("changes", "keys"),
    [
        (
            {"fluid.viscosity_100": "50 mm2/s", "fluid.viscosity_40": "40 mm2/s", "fluid.water_content": 3},
            ["fluid.viscosity_100", "fluid.water_content"],
        ),
        (
            {"start.headspace_pressure": "20 psig", "start.air_saturation": 2, "cap.relief_area": "1 m2"},
            ["cap.relief_area", "start.headspace_pressure", "start.air_saturation"],
        ),
        (
            {"start.headspace_pressure": "30 psig", "reservoir.rating": "1 barg", "fluid.preset": "oil"},
            ["fluid.preset", "start.headspace_pressure", "start.headspace_pressure"],
        ),
        (
            {"cooler.fan_on_temperature": "80 degC", "cooler.face_area": "1 mm2", "cooler.blockage": "all"},
            ["cooler.face_area", "cooler.blockage", "cooler.fan_on_temperature"],
        ),
        (
            {"duty.stop": [{"name": "pit", "after_lap": 9, "duration": "1 s", "engine": "on"}], "duty.laps": 2}
            | {"duty.sample_interval": "9 h", "duty.segment.0.steering_load": "1 kbar", "display.units": "US"},
            ["duty.sample_interval", "duty.segment.0.steering_load", "display.units", "duty.stop.0.after_lap"],
        ),
        (
            {"event": [{"action": "cap on", "time": "1 min"}, {"action": "cap off", "time": "9 h"}]}
            | {"reservoir.fill": 2, "fluid": {"viscosity_40": "30 mm2/s"}},
            ["reservoir.fill", "fluid", "event.1.time", "event.0.action"],
        ),
    ],
)
def test_rule_between_right_keys_is_asked_beside_wrong_ones_of_the_same_table(changes, keys):
    assert sorted(fault.key for fault in faults_of(truck, changes)) == sorted(keys)


def test_elements_beside_a_wrong_one_are_judged():
    segments = [{"engine_speed": "1 rpm"}, {"engine_speed": "1 rpm", "duration": "1 hour 3"}, {"engine_speed": "1 rpm"}]
    found = [fault.key for fault in faults_of(truck, {"duty.segment": segments})]
    assert found == ["duty.segment.1.duration", "duty.segment.0", "duty.segment.2"]


def test_wrong_value_beside_a_misspelt_twin_is_said():
    found = faults_of(truck, {"cap.relief_pressure": "x", "cap.relief_presure": "16 psi"})
    assert [fault.key for fault in found] == ["cap.relief_pressure", "cap.relief_presure"]


def test_faults_of_several_rules_come_together():
    with pytest.raises(ScenarioError) as caught:
        truck(
            {
                "fluid.preset": "X",
                "pump.bypass_routing": None,
                "reservoir.rating": "3 bara",
                "event": [{"action": "cap on"}],
            }
        )
    assert [fault.key for fault in caught.value.faults] == [
        "fluid.preset",
        "pump.bypass_routing",
        "reservoir.rating",
        "event.0",
    ]
