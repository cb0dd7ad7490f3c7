import json
import re

import fastjsonschema
import numpy as np
import pytest

import ullage.api
from support import SCENARIOS, truck
from ullage.api import simulate, simulate_with_bracket
from ullage.errors import STATUS_NOT_A_NUMBER, Fault, ScenarioError, SimulationError, UllageError
from ullage.results.answer import error_json
from ullage.results.summary import summary_json
from ullage.results.summary_schema import schema_text, summary_schema
from ullage.results.trace import trace_race
from ullage.results.variables import SUMMARY_FIGURES
from ullage.scenario.load import load_scenario

SCHEMA = summary_schema()
SUMMARY, FAULTS, FAILURE = (fastjsonschema.compile({**SCHEMA, "oneOf": [each]}) for each in SCHEMA["oneOf"])
ANSWER = fastjsonschema.compile(SCHEMA)
STANDING = {"duty.segment.0.engine_speed": "0 rpm", "duty.segment.0.vehicle_speed": "0 km/h"}
EVENTFUL = {
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "2 min"}],
    "event": [
        {"time": "1 min", "action": "fault on", "fault": "collapsed hose"},
        {"time": "2 min", "action": "fault on", "fault": "blocked strainer", "factor": 100},
        {"time": "3 min", "action": "fault off", "fault": "collapsed hose"},
        {"stop": "pit", "action": "cap off"},
        {"stop": "pit", "after": "1 min", "action": "cap on"},
        {"time": "15 min", "action": "cap off"},
    ],
}


def refused(token):
    raise AssertionError(f"{token} is no JSON")


def strict(text):
    """Read JSON, without the numbers that only some readers know."""
    assert text.isascii()
    return json.loads(text, parse_constant=refused)


@pytest.fixture(scope="module")
def answer():
    return strict(summary_json(*simulate_with_bracket(truck(EVENTFUL))))


def broken(problem):
    """March a race, and let it fail with figures that are no number."""
    trace = trace_race(problem)
    state = trace.state
    state.time, state.shaft_work, state.peak_oil_time, state.peak_oil_temperature[1] = 100.25, np.nan, np.nan, np.nan
    return trace.__class__(trace.rows[:101], trace.log, state, STATUS_NOT_A_NUMBER)


def failed(monkeypatch):
    """Return the answer of a race that broke down."""
    monkeypatch.setattr(ullage.api, "trace_race", broken)
    with pytest.raises(SimulationError) as caught:
        simulate(truck())
    return strict(error_json(caught.value))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_summary_of_a_delivered_scenario_conforms(path):
    found = strict(summary_json(*simulate_with_bracket(load_scenario(path))))
    SUMMARY(found)
    ANSWER(found)


def test_summary_of_a_pump_that_never_turns_conforms_with_null_for_what_it_has_not():
    found = strict(summary_json(*simulate_with_bracket(truck(STANDING))))
    SUMMARY(found)
    nulls = {name for name, value in found.items() if value is None}
    assert nulls == {name for name, figure in SUMMARY_FIGURES.items() if figure.absent} - {"air_dissolved_share"}


def test_summary_with_openings_faults_and_stops_conforms(answer):
    SUMMARY(answer)
    assert [opening["refitted"] is None for opening in answer["cap_openings"]] == [False, True]
    assert [fault["end"] is None for fault in answer["faults"]] == [False, True]
    assert [stop["name"] for stop in answer["stops"]] == ["pit"]


def test_failed_race_conforms_with_its_figures_up_to_there_even_where_they_are_no_numbers(monkeypatch):
    found = failed(monkeypatch)
    FAILURE(found)
    ANSWER(found)
    assert (found["outcome"], found["time"]) == ("failed", 100.25)
    assert found["figures"]["status"] == found["reason"] == "a quantity of the circuit stopped being a number"
    assert found["figures"]["duration"] == 100.0
    assert found["figures"]["peak_oil_temperature"]["pump"] is found["figures"]["shaft_energy"] is None


@pytest.mark.parametrize("error", [UllageError("out: cannot be written"), MemoryError(), RuntimeError("inside")])
def test_other_errors_conform_and_have_a_reason_alone(error):
    found = strict(error_json(error))
    FAILURE(found)
    assert [name for name, value in found.items() if value is None] == ["remedy", "time", "figures"]
    assert found["reason"]


def test_faults_conform_and_a_name_that_is_no_text_does_not_break_the_json():
    found = strict(error_json(ScenarioError([Fault("\udcff.toml", None, "", "is empty"), Fault("a", 3, "cap", "µ")])))
    FAULTS(found)
    ANSWER(found)
    assert found["faults"][0]["file"] == "\\udcff.toml"
    assert found["faults"][1] == {"file": "a", "line": 3, "key": "cap", "text": "µ"}


def places(schema, path=()):
    """Go through every value of a schema of objects and arrays, by its path in an answer; arrays by first item."""
    yield path, schema
    for name, inner in schema.get("properties", {}).items():
        yield from places(inner, (*path, name))
    if "items" in schema:
        yield from places(schema["items"], (*path, 0))


def reach(tree, path):
    for step in path:
        if tree is None or (step not in tree if isinstance(tree, dict) else len(tree) <= step):
            return None
        tree = tree[step]
    return tree


def spoilt(answer, path, change):
    """Return a copy of an answer in which something was done to the container of a place."""
    copy = json.loads(json.dumps(answer))
    change(reach(copy, path[:-1]), path[-1])
    return copy


def test_no_key_may_be_wrong_missing_or_added_anywhere(answer):
    def assign(container, step):
        container[step] = {"x": []}

    def add(container, _):
        container["new"] = 1.0

    def take(container, step):
        del container[step]

    checked = 0
    for path, schema in places(SCHEMA["oneOf"][0]):
        if not path or reach(answer, path) is None:
            continue
        wrong = [spoilt(answer, path, assign)]
        if isinstance(reach(answer, path[:-1]), dict):
            wrong.append(spoilt(answer, path, add))
            if path[0] not in ("air_models", "misfit") or len(path) == 2:
                wrong.append(spoilt(answer, path, take))
        for each in wrong:
            with pytest.raises(fastjsonschema.JsonSchemaValueException):
                ANSWER(each)
            checked += 1
        assert schema.get("description") or "const" in schema, path
    assert checked > 200


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format_version",), 2),
        (("outcome",), "failed"),
        (("status",), "the reservoir has run out of oil"),
        (("laps",), 2.5),
        (("laps",), "2"),
        (("duration",), None),
        (("left_oil_range",), 0),
        (("faults", 0, "name"), "flat tyre"),
        (("finish",), None),
        (("misfit", "oil_temperature"), {"gearbox": {}}),
        (("air_models", "time_starved"), {}),
    ],
)
def test_wrong_value_does_not_conform(answer, path, value):
    def assign(container, step):
        container[step] = value

    with pytest.raises(fastjsonschema.JsonSchemaValueException):
        ANSWER(spoilt(answer, path, assign))


def test_every_figure_is_there_with_its_unit_and_description():
    found = SCHEMA["oneOf"][0]["properties"]
    for name, figure in SUMMARY_FIGURES.items():
        told = found[name]["properties"]["pump"] if name == "peak_oil_temperature" else found[name]
        if name != "status":
            assert figure.long_name in told["description"]
            assert told.get("x-units", "") == figure.units
    misfit = found["misfit"]["properties"]["oil_temperature"]["properties"]["cooler"]["properties"]
    assert [misfit[name]["x-units"] for name in ("rows", "mean", "largest_time")] == ["1", "K", "s"]


def test_schema_names_its_dialect_and_no_other_address():
    text = schema_text()
    assert SCHEMA["$id"] == "urn:ullage:summary:1"
    assert re.findall(r"\S*://[^\"]*", text) == ['"https://json-schema.org/draft/2020-12/schema']
    assert json.loads(text) == SCHEMA
