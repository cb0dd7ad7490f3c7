import copy
import math
import re

import pytest

from support import TRUCK, truck
from ullage.errors import ScenarioError
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.toml_text import write_toml

FAULTY = """\
format = 2
titel = "test truck (invented data)"

[fluid]
preset = "ATF"
viscosity_40 = 34

[reservoir]
volume = "7.6 psi"
fill = 0.99

[cap]
kind = "open"
relief_presure = "16 psi"

[pump]
drive_ratio = "fast"
flow_point = { speed = "1000 rpm", pressure = "50 bar", flow = "20 gpm", viscosity = "30 mm2/s", sped = 1 }

[cooler]
blockage = 1.2
thermal_mass = "1 kJ/K"

[duty]
laps = 0

[[duty.segment]]
duration = "1 min"
engine_speed = "4000 rpm"

[[duty.segment]]
duration = "1 min"
steering_load = "300 bar"

[[duty.stop]]
name = "pit"
after_lap = 1
duration = "1 d 1 min"
"""
FAULTS = {
    ("format", 1),
    ("titel", 2),
    ("fluid.viscosity_40", 6),
    ("reservoir.volume", 9),
    ("reservoir.fill", 10),
    ("cap.kind", 13),
    ("cap.relief_presure", 14),
    ("pump.displacement", 16),
    ("pump.drive_ratio", 17),
    ("pump.flow_point.sped", 18),
    ("cooler.blockage", 21),
    ("cooler.thermal_mass", 22),
    ("duty.laps", 25),
    ("duty.segment.1.engine_speed", 31),
    ("duty.segment.1.steering_load", 33),
    ("duty.stop.0.duration", 38),
}


@pytest.fixture(scope="module")
def faults():
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_toml(FAULTY, "truck.toml")
    return [str(fault) for fault in caught.value.faults]


def only_fault(call, *arguments):
    """Return the sentence of the one fault that a call raises."""
    with pytest.raises(ScenarioError) as caught:
        call(*arguments)
    (fault,) = caught.value.faults
    return str(fault)


def test_every_fault_of_a_file_is_reported_at_once_with_its_line(faults):
    found = [re.fullmatch(r"truck\.toml:(\d+): ([a-z0-9_.]+): .+", fault) for fault in faults]
    assert {(match[2], int(match[1])) for match in found} == FAULTS
    assert len(faults) == len(FAULTS)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("titel", "unknown key (did you mean 'title'?)"),
        ("cap.relief_presure", "unknown key (did you mean 'relief_pressure'?)"),
        ("pump.flow_point.sped", "unknown key (did you mean 'speed'?)"),
        ("cooler.thermal_mass", "unknown key"),
        ("fluid.viscosity_40", '34 has no unit; a viscosity is wanted, such as "34 mm2/s" or "34 cSt"'),
        ("reservoir.volume", """'psi' is not a unit of this kind; a volume is wanted, such as "7.6 L" or "2 gal\""""),
        ("reservoir.fill", "0.99 is outside 0.3 to 0.97"),
        ("cap.kind", """must be 'sealed' or 'vented', got "open\""""),
        ("pump.displacement", "missing: per revolution, 5 cm3 to 60 cm3"),
        ("duty.segment.1.steering_load", '"300 bar" is outside 0 bar to 250 bar'),
        ("duty.laps", "must be a whole number from 1 to 1000, got 0"),
    ],
)
def test_fault_says_what_was_found_and_what_is_allowed(faults, path, words):
    (fault,) = [fault for fault in faults if f" {path}: " in fault]
    assert fault.endswith(words)


def test_fault_between_keys_has_its_line_too():
    text = truck().to_toml().replace('bypass_routing = "inlet"\n', "")
    line = text.split("\n").index("[pump]") + 1
    assert only_fault(Scenario.from_toml, text, "f").startswith(f"f:{line}: pump.bypass_routing: missing")


def test_number_from_python_is_si_and_a_pressure_level_absolute():
    data = copy.deepcopy(TRUCK)
    data["reservoir"] = {"volume": 0.0076, "fill": 0.8, "fill_temperature": 300}
    data["start"] = {"headspace_pressure": 120e3}
    spec = Scenario.from_dict(data).spec
    assert (spec.reservoir.volume, spec.reservoir.fill_temperature) == (0.0076, 300.0)
    assert spec.start.headspace_pressure == (120e3, False)


def test_number_from_python_and_the_same_text_make_the_same_file():
    numbers = truck({"reservoir.volume": 0.0076, "pump.maximum_speed": 500})
    texts = truck({"reservoir.volume": "0.0076 m3", "pump.maximum_speed": "500.0 rad/s"})
    assert numbers.to_toml() == texts.to_toml()


def test_dict_given_is_left_alone():
    data = copy.deepcopy(TRUCK) | {"start": {"temperature": 300.0}}
    before = copy.deepcopy(data)
    scenario = Scenario.from_dict(data)
    assert data == before
    data["duty"]["segment"][0]["duration"] = "1 min"
    assert scenario.spec.duty.segment[0].duration == 600.0


def test_key_that_is_none_in_a_dict_stays_out_of_the_file():
    data = copy.deepcopy(TRUCK)
    data["pump"]["maximum_speed"] = None
    scenario = Scenario.from_dict(data)
    assert Scenario.from_toml(scenario.to_toml()).spec == scenario.spec


@pytest.mark.parametrize("value", [math.nan, math.inf, True, [1.0], b"1 L"])
def test_value_from_python_that_is_no_quantity_is_a_fault(value):
    assert only_fault(truck, {"reservoir.volume": value}).startswith("reservoir.volume: ")


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"title": 'He said "full" \\ °C', "display.units": "us"},
        {"start.headspace_pressure": 120e3, "reservoir.volume": 0.1 / 13.0},
        {
            "weather.point": [{"time": "0 s", "temperature": "9 degC"}, {"time": 60.0, "temperature": 290.0}],
            "event": [{"action": "cap off", "time": "1 min"}, {"action": "top-up", "time": 70, "volume": 1e-4}],
            "duty.stop": [{"name": "pit one", "after_lap": 0, "duration": "1 min", "engine": "off"}],
            "pump.flow_point": {"speed": 100.0, "pressure": 5e6, "flow": "25 L/min", "viscosity": 3e-5},
        },
    ],
)
def test_scenario_survives_the_way_through_its_text(changes):
    scenario = truck(changes)
    again = Scenario.from_toml(scenario.to_toml())
    assert again.spec == scenario.spec
    assert (again.to_toml(), again.hash) == (scenario.to_toml(), scenario.hash)


def test_hash_is_stable_and_follows_the_content():
    assert re.fullmatch("[0-9a-f]{16}", truck().hash)
    assert truck().hash == truck().hash
    assert truck({"duty.laps": 2}).hash != truck().hash
    assert truck({"title": "other (invented data)"}).hash != truck().hash


@pytest.mark.parametrize(
    ("changes", "read", "expected"),
    [
        ({"reservoir.fill": 0.7}, lambda spec: spec.reservoir.fill, 0.7),
        ({"cooler.blockage": "20 %"}, lambda spec: spec.cooler.blockage, 0.2),
        ({"duty.laps": 3}, lambda spec: spec.duty.laps, 3),
        ({"duty.segment.0.duration": "2 min"}, lambda spec: spec.duty.segment[0].duration, 120.0),
        ({"duty.segment.climb.duration": 90}, lambda spec: spec.duty.segment[1].duration, 90.0),
        ({"pump.controlled_flow": None}, lambda spec: spec.pump.controlled_flow, None),
        ({"surroundings": {"bay_offset": "9 K"}}, lambda spec: spec.surroundings.bay_offset, 9.0),
        ({"pump.maximum_speed": None}, lambda spec: round(spec.pump.maximum_speed), 576),
    ],
)
def test_replace_reaches_keys_elements_by_name_or_number_and_removes(changes, read, expected):
    segment = {**TRUCK["duty"]["segment"][0], "name": "climb"}
    base = truck({"duty.segment": [TRUCK["duty"]["segment"][0], segment]})
    before = base.to_toml()
    other = base.replace(changes)
    assert read(other.spec) == expected
    assert Scenario.from_toml(other.to_toml()).spec == other.spec
    assert base.to_toml() == before


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("reservoir.fil", "unknown key (did you mean 'fill'?)"),
        ("duty.segment.7.duration", 'no element "7"; there are: only'),
        ("duty.segment.nowhere.duration", 'no element "nowhere"; there are: only'),
        ("duty.segment.x2.duration", 'no element "x2"; there are: only'),
        ("duty.segment.0", "no such key"),
        ("cap.kind.more", "no such key"),
        ("cap.kind.more.still", "no such key"),
    ],
)
def test_replace_of_a_key_that_is_not_there_is_a_fault(path, words):
    segment = {**TRUCK["duty"]["segment"][0], "name": "only"}
    assert only_fault(truck({"duty.segment": [segment]}).replace, {path: 1}) == f"{path}: {words}"


def test_scenario_cannot_be_changed_in_place():
    with pytest.raises(ValueError, match="frozen"):
        truck().spec.reservoir.fill = 0.5


def test_stops_are_named_in_the_order_of_the_race():
    stops = [
        {"name": name, "after_lap": lap, "duration": "1 min"} for name, lap in zip("abcd", (3, 0, 3, 1), strict=True)
    ]
    assert truck({"duty.stop": stops, "duty.laps": 3}).stops == ("b", "d", "a", "c")


def test_stops_by_time_are_named_in_the_order_of_the_race():
    stops = [
        {"name": "late", "time": "30 min", "duration": "1 min"},
        {"name": "lap", "after_lap": 1, "duration": "5 min"},
        {"name": "early", "time": "2 min", "duration": "5 min"},
    ]
    assert truck({"duty.stop": stops, "duty.laps": 3}).stops == ("early", "lap", "late")


def test_quantities_list_every_value_with_whether_it_was_given():
    keys = {key.path: key for key in truck().quantities()}
    assert keys["reservoir.fill"].given
    assert keys["duty.segment.0.duration"].value == 600.0
    assert not keys["cooler.preheat"].given
    assert "cap.kind" not in keys


def test_file_is_read_as_utf_8(tmp_path):
    path = tmp_path / "truck.toml"
    path.write_text(write_toml({**TRUCK, "title": "Sandstraße (invented)"}), encoding="utf-8")
    assert load_scenario(path).spec.title == "Sandstraße (invented)"
    path.write_bytes(b'title = "caf\xe9"\n')
    assert only_fault(load_scenario, path) == f"{path}:1: is not UTF-8 text: it holds the byte 0xe9"


def test_file_that_cannot_be_read_is_a_fault(tmp_path):
    for path in (tmp_path, tmp_path / "none.toml", str(tmp_path / "none" / "none.toml")):
        assert only_fault(load_scenario, path).startswith(f"{path}: cannot be read: ")


def test_file_of_comments_lacks_what_has_no_default():
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_toml("# a truck\n", "f")
    assert [str(fault) for fault in caught.value.faults] == [
        "f: format: missing: the number 1",
        "f: fluid: missing: a table, [fluid]",
        "f: reservoir: missing: a table, [reservoir]",
        "f: cap: missing: a table, [cap]",
        "f: pump: missing: a table, [pump]",
        "f: duty: missing: a table, [duty]",
    ]
