import pytest

from ullage import errors
from ullage.errors import ScenarioError, SimulationError, UllageError, failure_sentence
from ullage.results.store import ResultsError
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
    assert all(issubclass(kind, UllageError) for kind in (ScenarioError, SimulationError, ResultsError))
    assert issubclass(UnitError, ValueError)  # caught and reported as a fault of the scenario


def test_scenario_error_lists_its_faults_line_by_line():
    faults = ["a: wrong", "b: missing"]
    error = ScenarioError(faults)
    faults.append("c")
    assert error.faults == ["a: wrong", "b: missing"]
    assert str(error) == "a: wrong\nb: missing"


def test_simulation_error_says_when_why_and_what_to_do():
    error = SimulationError(errors.STATUS_OIL_GONE, 12.34)
    assert str(error) == f"at 12.3 s the reservoir has run out of oil: {error.remedy}"
    assert (error.status, error.time, error.partial) == (errors.STATUS_OIL_GONE, 12.34, None)
