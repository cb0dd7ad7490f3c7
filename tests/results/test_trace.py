"""Some rows of a race are rows of the whole of it, to the last bit, and its end is the same."""

import dataclasses

import numpy as np
import pytest

from support import truck
from ullage.errors import STATUS_DONE, STATUS_OIL_GONE
from ullage.kernel.state import copied
from ullage.results.trace import trace_at, trace_race
from ullage.scenario.compile import compile_problem

OPENED = [{"action": "cap off", "time": "30 s"}, {"action": "cap on", "time": "80.5 s"}]  # the channels jump there
SHORT = {"duty.segment.0.duration": "2 min", "event": OPENED, "start.temperature": "70 degC"}


@pytest.fixture(scope="module")
def problem():
    return compile_problem(truck(SHORT).spec)


@pytest.fixture(scope="module")
def whole(problem):
    return trace_race(problem)


@pytest.mark.parametrize(
    "times",
    [
        np.arange(0.0, 121.0, 60.0),
        np.arange(0.0, 121.0, 1.0),
        np.array([0.0]),
        np.array([30.0, 80.5, 81.0]),
        np.array([120.0]),
        np.array([]),
        np.arange(0.0, 119.0, 7.3),
        np.array([0.2, 0.4, 0.6, 1.0]),  # some within one step of the table
    ],
    ids=["minutes", "all", "start", "jumps", "end", "none", "odd", "dense"],
)
def test_rows_are_the_last_of_the_whole_race_at_or_before_each_time(problem, whole, times):
    kept = np.searchsorted(problem.table.output_time, times, side="right") - 1
    found = trace_at(problem, times)
    assert found.rows.tobytes() == whole.rows[kept].tobytes()
    assert found.state.tobytes() == whole.state.tobytes()
    assert found.status == whole.status == STATUS_DONE


def test_times_after_the_end_have_no_row(problem, whole):
    found = trace_at(problem, np.array([60.0, 120.0, 120.1, 500.0]))
    assert found.rows.tobytes() == whole.rows[np.searchsorted(problem.table.output_time, [60.0, 120.0])].tobytes()


def test_a_time_counts_where_it_misses_a_row_by_rounding(problem, whole):
    found = trace_at(problem, np.array([30.0 - 1e-10]))
    assert found.rows.tobytes() == whole.rows[np.searchsorted(problem.table.output_time, [30.0])].tobytes()


def test_a_race_that_fails_has_rows_up_to_there():
    loss = [{"action": "fault on", "fault": "lost oil", "time": "1 min", "volume": "2 L"}]
    sound = compile_problem(truck({**SHORT, "event": loss}).spec)
    state = copied(sound.state)
    state.oil_mass -= 4.0
    failing = dataclasses.replace(sound, state=state)
    whole, found = trace_race(failing), trace_at(failing, np.arange(0.0, 121.0, 5.0))
    assert found.status == whole.status == STATUS_OIL_GONE
    assert found.state.tobytes() == whole.state.tobytes()
    times = np.arange(0.0, 121.0, 5.0)
    times = times[times < float(whole.state.time)]
    assert 12 < len(times) < 25
    assert found.rows.tobytes() == whole.rows[np.searchsorted(failing.table.output_time, times)].tobytes()


def test_the_initial_state_is_left_as_it_is(problem):
    before = problem.state.tobytes()
    trace_at(problem, np.array([60.0]))
    assert problem.state.tobytes() == before
