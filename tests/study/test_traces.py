import numpy as np
import pytest

from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.state import NODES
from ullage.study.spec import Traces
from ullage.study.traces import NO_TRACES, trace_plan


def asked(variables=("feed_gauge_pressure",), interval="60 s", members=None):
    return Traces.model_validate({"variables": variables, "interval": interval, "members": members})


@pytest.mark.parametrize(
    ("interval", "duration", "times"),
    [
        ("60 s", 120.0, [0.0, 60.0, 120.0]),
        ("50 s", 120.0, [0.0, 50.0, 100.0]),
        ("10 min", 120.0, [0.0]),
        ("60 s", 120.0 - 1e-8, [0.0, 60.0, 120.0]),  # a clock has whole nanoseconds, a sum of times rounds
        ("60 s", 119.9, [0.0, 60.0]),
    ],
)
def test_times_are_an_interval_apart_from_0_to_the_end_of_the_longest_race(interval, duration, times):
    assert trace_plan(asked(interval=interval), 3, duration).times.tolist() == times


def test_members_are_all_or_those_named_once_and_in_order():
    assert trace_plan(asked(), 3, 60.0).members.tolist() == [0, 1, 2]
    assert trace_plan(asked(members=[7, 2, 7]), 9, 60.0).members.tolist() == [2, 7]
    assert trace_plan(asked(members=[]), 9, 60.0).members.tolist() == []


def test_a_variable_of_nodes_has_a_column_for_each_and_none_is_there_twice():
    names = ("oil_temperature", "feed_gauge_pressure", "oil_temperature")
    columns = trace_plan(asked(names), 1, 60.0).columns
    assert columns == (*[("oil_temperature", node) for node in range(len(NODES))], ("feed_gauge_pressure", None))


def test_values_are_the_columns_of_the_rows():
    rows = np.recarray(2, dtype=OUTPUT_DTYPE)
    rows.oil_temperature[:] = np.arange(2 * len(NODES)).reshape(2, -1)
    rows.feed_gauge_pressure[:] = [-1.0, -2.0]
    found = trace_plan(asked(("feed_gauge_pressure", "oil_temperature")), 1, 60.0).values(rows)
    assert found.tolist() == [[-1.0, -2.0], *rows.oil_temperature.T.tolist()]


def test_a_study_without_traces_traces_no_member():
    assert (len(NO_TRACES.members), len(NO_TRACES.times), NO_TRACES.columns) == (0, 0, ())
