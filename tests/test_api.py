import dataclasses
import threading

import numpy as np
import pytest

import ullage.api
from support import truck
from ullage.api import simulate
from ullage.errors import STATUS_GAS_STEP, SimulationError
from ullage.results.trace import Trace, trace_race

BUSY = {
    "cap.relief_pressure": "3 psi",
    "reservoir.fill": 0.85,
    "duty.segment.0.elevation": "500 m",
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "3 min", "engine": "off"}],
    "event": [{"action": "cap off", "stop": "pit", "after": "1 min"}],
}


@pytest.fixture(scope="module")
def data():
    return simulate(truck(BUSY))


def test_simulating_twice_gives_the_same_numbers_and_leaves_the_scenario(data):
    scenario = truck(BUSY)
    before = scenario.to_toml()
    assert simulate(scenario).drop_attrs().identical(data.drop_attrs())
    assert simulate(scenario).drop_attrs().identical(data.drop_attrs())
    assert scenario.to_toml() == before


def test_two_threads_at_once_give_the_same_numbers(data):
    scenarios = [truck(BUSY), truck({**BUSY, "reservoir.fill": 0.7})]
    alone = [data, simulate(scenarios[1])]
    found = [[], []]
    start = threading.Barrier(2)

    def work(place):
        start.wait(timeout=60)
        for _ in range(10):
            found[place].append(simulate(scenarios[place]).drop_attrs())

    threads = [threading.Thread(target=work, args=(place,)) for place in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for results, expected in zip(found, alone, strict=True):
        assert len(results) == 10
        assert all(result.identical(expected.drop_attrs()) for result in results)


@pytest.mark.parametrize("factor", [0.0, -1.0, 0.99e-4, 10.1, float("nan"), float("inf")])
def test_tolerance_factor_out_of_range_is_refused(factor):
    with pytest.raises(ValueError, match="1e-4 to 10 is allowed"):
        simulate(truck(), tolerance_factor=factor)


@pytest.mark.parametrize("factor", [1e-4, 10.0])
def test_limits_of_the_tolerance_factor_are_accepted(factor):
    assert simulate(truck({"duty.segment.0.duration": "5 s"}), tolerance_factor=factor).attrs["status"] == "done"


def test_tolerance_factor_is_a_keyword():
    with pytest.raises(TypeError):
        simulate(truck(), 1.0)


@pytest.mark.parametrize("factor", [0.1, 0.01])
def test_smaller_tolerance_changes_results_little(factor):
    usual, fine = simulate(truck()), simulate(truck(), tolerance_factor=factor)
    assert fine.attrs["solver"] != usual.attrs["solver"]
    # Five times the accuracy that the documentation of `simulate` gives for the default tolerance.
    assert float(np.abs(fine.oil_temperature - usual.oil_temperature).max()) < 0.05
    assert float(np.abs(fine.headspace_pressure - usual.headspace_pressure).max()) < 50.0


def failed(problem):
    """March a race, and say that it failed after 101 rows."""
    trace = trace_race(problem)
    trace.state.time = 100.25
    return dataclasses.replace(trace, rows=trace.rows[:101], status=STATUS_GAS_STEP)


def test_race_that_fails_raises_with_time_remedy_and_the_results_until_then(monkeypatch):
    monkeypatch.setattr(ullage.api, "trace_race", failed)
    events = [{"action": "cap off", "time": "1 min"}, {"action": "cap on", "time": "5 min"}]
    with pytest.raises(SimulationError) as caught:
        simulate(truck({"event": events}))
    error = caught.value
    assert (error.status, error.time) == (STATUS_GAS_STEP, 100.25)
    assert "reservoir.compliance" in error.remedy
    assert str(error).startswith("at 100.2 s the headspace pressure changes faster")
    assert str(error).endswith(error.remedy)
    partial = error.partial
    assert partial.sizes["time"] == 101
    assert partial.attrs["status"] == "the headspace pressure changes faster than the smallest step can follow"
    assert partial.event_time.values.tolist() == [60.0]  # what came after the failure did not happen
    assert partial.attrs["oil_balance"] < 1e-10  # as a whole race
    assert np.all(np.isfinite(partial.oil_temperature))


def test_trace_keeps_the_problem_for_another_race():
    problem = ullage.api.compile_problem(truck().spec)
    before = problem.state.copy()
    one, other = trace_race(problem), trace_race(problem)
    assert isinstance(one, Trace)
    assert problem.state == before
    assert one.rows.tobytes() == other.rows.tobytes()
    assert one.state.time == 600.0
