import numpy as np
import pytest

from ullage.report.traces import COLUMNS, extremes_by_column, joined, spans_where


def test_few_rows_are_drawn_as_they_are():
    time, values = np.arange(50.0), np.sin(np.arange(50.0))
    assert extremes_by_column(time, values)[1] is values


@pytest.mark.parametrize("rows", [2 * COLUMNS + 1, 18_414, 200_000])
def test_no_extreme_of_any_column_is_lost(rows):
    generator = np.random.default_rng(rows)
    time = np.sort(generator.uniform(0.0, 2e4, rows))
    values = np.cumsum(generator.normal(size=rows))
    values[generator.integers(rows)] = 1e6
    shown_time, shown = extremes_by_column(time, values)
    assert len(shown) <= 2 * COLUMNS
    assert np.all(np.diff(shown_time) >= 0.0)
    edges = np.linspace(time[0], time[-1], COLUMNS + 1)
    for column in range(1, COLUMNS, 37):
        # a margin of a billionth of the race keeps rounding at an edge out of the comparison
        low, high = edges[column] + 2e-5, edges[column + 1] - 2e-5
        inside, kept = (time > low) & (time < high), (shown_time > low) & (shown_time < high)
        if inside.any():
            assert shown[kept].min() == values[inside].min()
            assert shown[kept].max() == values[inside].max()
    assert (shown.min(), shown.max()) == (values.min(), values.max())


def test_gap_stays_a_gap_and_hides_no_value_beside_it():
    time = np.arange(10_000.0)
    values = np.where((time > 3000.0) & (time < 6000.0), np.nan, time)
    shown_time, shown = extremes_by_column(time, values)
    assert np.isnan(shown[(shown_time > 3020.0) & (shown_time < 5980.0)]).all()
    assert np.nanmax(shown[shown_time < 3020.0]) == 3000.0
    assert np.nanmin(shown[shown_time > 5980.0]) == 6000.0


def test_falling_trace_goes_down_within_each_column():
    time = np.arange(20_000.0)
    assert np.all(np.diff(extremes_by_column(time, -time)[1]) <= 0.0)


def test_condition_holds_in_the_interval_before_its_row():
    time = np.array([0.0, 1.0, 2.0, 4.0, 5.0, 6.0])
    holds = np.array([True, False, False, True, True, False])
    assert spans_where(time, holds).tolist() == [[0.0, 0.0], [2.0, 5.0]]
    assert spans_where(time, np.zeros(6, dtype=bool)).shape == (0, 2)
    assert spans_where(time, np.ones(6, dtype=bool)).tolist() == [[0.0, 6.0]]


def test_joined_spans_touch_the_same_columns_as_all():
    starts = np.sort(np.random.default_rng(3).uniform(0.0, 999.0, 5000))
    spans = np.stack([starts, starts + 0.01], axis=1)
    few = joined(spans, 0.0, 1000.0)
    assert len(few) <= COLUMNS
    assert few[0, 0] == spans[0, 0]
    assert few[-1, 1] == spans[-1, 1]
    width = 1000.0 / COLUMNS

    def touched(some):
        return {column for low, high in some for column in range(int(low / width), int(high / width) + 1)}

    assert touched(few) == touched(spans)


def test_spans_far_apart_are_left_alone():
    spans = np.array([[0.0, 10.0], [500.0, 510.0]])
    assert joined(spans, 0.0, 1000.0).tolist() == spans.tolist()
