import datetime
import math
import pickle

import pytest

from ullage import errors
from ullage.errors import Fault, ScenarioError, SimulationError, UllageError, failure_sentence, quoted
from ullage.results.store import ResultsError
from ullage.study.ledger import StudyError
from ullage.units import UnitError

CODES = {name: value for name, value in vars(errors).items() if name.startswith("STATUS_")}


def test_status_codes_differ_and_done_is_zero():
    assert len(set(CODES.values())) == len(CODES)
    assert CODES["STATUS_DONE"] == 0


@pytest.mark.parametrize("name", CODES)
def test_every_status_has_a_reason_and_every_failure_a_remedy(name):
    reason, remedy = failure_sentence(CODES[name])
    assert reason
    assert (remedy == "") == (name == "STATUS_DONE")
    assert not reason.endswith(".")
    assert not remedy.endswith(".")


def test_reasons_differ():
    assert len({failure_sentence(code)[0] for code in CODES.values()}) == len(CODES)


def test_unknown_status_is_no_failure_with_words():
    with pytest.raises(KeyError):
        failure_sentence(99)


def test_every_error_of_the_library_has_one_base():
    assert all(issubclass(kind, UllageError) for kind in (ScenarioError, SimulationError, ResultsError, StudyError))
    assert issubclass(UnitError, ValueError)  # caught and reported as a fault of the scenario


def test_scenario_error_lists_its_faults_line_by_line():
    faults = [Fault("f.toml", 3, "a", "wrong"), Fault("f.toml", None, "b", "missing")]
    error = ScenarioError(faults)
    assert error.faults == faults
    faults.clear()
    assert [fault.key for fault in error.faults] == ["a", "b"]
    assert str(error) == "f.toml:3: a: wrong\nf.toml: b: missing"


@pytest.mark.parametrize(
    ("fault", "sentence"),
    [
        (Fault("f.toml", 3, "a.b", "wrong"), "f.toml:3: a.b: wrong"),
        (Fault("f.toml", 3, "", "wrong"), "f.toml:3: wrong"),
        (Fault("", None, "a.b", "wrong"), "a.b: wrong"),
        (Fault("", None, "", "wrong"), "wrong"),
        (Fault("--set", None, "a.b", "wrong"), "--set a.b: wrong"),
        (Fault("f\x1b[2J", 1, "a\n", "\ud800\u202e"), "f\\x1b[2J:1: a\\n: \\ud800\\u202e"),
    ],
)
def test_sentence_of_a_fault_begins_with_its_place_and_prints_on_any_terminal(fault, sentence):
    assert str(fault) == sentence


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("16 psi", '"16 psi"'),
        ("x" * 70, f'"{"x" * 60}..."'),
        ("a\nb\x00", '"a\\nb\\x00"'),
        (True, "true"),
        (3, "3"),
        pytest.param(10**5000, "a very large number", id="5000 digits"),
        (math.nan, "nan"),
        (datetime.date(2020, 1, 2), "2020-01-02"),
        ([1], "an array"),
        ({"a": 1}, "a table"),
        (b"1", "a value of type bytes"),
        (None, "a value of type NoneType"),
    ],
)
def test_value_is_shown_as_in_a_file_and_short(value, expected):
    assert quoted(value) == expected


def test_simulation_error_says_when_why_and_what_to_do():
    error = SimulationError(errors.STATUS_OIL_GONE, 12.34)
    assert str(error) == f"at 12.3 s the reservoir has run out of oil: {error.remedy}"
    assert (error.status, error.time, error.partial) == (errors.STATUS_OIL_GONE, 12.34, None)


def test_codes_are_counted_without_a_gap():
    assert list(errors.STATUSES) == sorted(CODES.values()) == list(range(len(CODES)))
    assert failure_sentence(errors.STATUS_REFUSED)[0] == "refused by the checks of a scenario"


def test_errors_pass_from_process_to_process_whole():
    faults = [Fault("f.toml", 3, "a", "wrong"), Fault("f.toml", None, "b", "missing")]
    refused = pickle.loads(pickle.dumps(ScenarioError(faults)))
    assert (type(refused), refused.faults, str(refused)) == (ScenarioError, faults, str(ScenarioError(faults)))
    failed = SimulationError(errors.STATUS_OIL_GONE, 12.34)
    again = pickle.loads(pickle.dumps(failed))
    assert (type(again), str(again), again.remedy) == (SimulationError, str(failed), failed.remedy)
    assert (again.status, again.time, again.partial) == (errors.STATUS_OIL_GONE, 12.34, None)
    assert str(pickle.loads(pickle.dumps(StudyError("why")))) == "why"
