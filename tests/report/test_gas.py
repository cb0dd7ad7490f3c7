import json

import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.report.gas import plot_gas
from ullage.results.summary import summarise


@pytest.fixture(scope="module")
def data():
    return simulate(truck({"event": [{"action": "engine off", "time": "8 min"}]}))


def filled(axes):
    """Return the highest point of the filled area at each of its times."""
    (area,) = [area for area in axes.collections if area.get_label().startswith("gas")]
    points = np.concatenate([path.vertices for path in area.get_paths()])
    return {time: points[points[:, 0] == time, 1].max() for time in np.unique(points[:, 0])}


def test_area_is_the_share_of_gas_in_per_cent_with_a_gap_where_the_pump_stands(data):
    found = filled(plot_gas(data))
    for time in (60.0, 300.0, 450.0):
        assert found[time] == pytest.approx(100.0 * float(data.pump_void_fraction.sel(time=time)), rel=1e-12)
    assert max(found) == 480.0


def test_title_says_what_the_summary_counts_and_a_line_what_counts_in_full(data):
    counted = data.assign_attrs(summary=json.dumps({**summarise(data), "cavitation_exposure": 300.0}))
    axes = plot_gas(counted)
    assert axes.get_title(loc="left") == "gas in the pump, % (counts as 5 min)"
    (line,) = [line for line in axes.lines if line.get_label() == "_full"]
    assert set(line.get_ydata()) == {5.0}


@pytest.mark.parametrize(("most", "tick"), [(0.01, 5.0), (0.08, 5.0), (0.13, 10.0), (0.98, 95.0)])
def test_axis_holds_the_line_and_the_most_gas(data, most, tick):
    gas = data.pump_void_fraction.where(np.isnan(data.pump_void_fraction), most)
    axes = plot_gas(data.assign(pump_void_fraction=gas))
    assert axes.get_ylim()[1] > max(5.0, 100.0 * most)
    assert axes.get_yticks().tolist() == pytest.approx([0.0, tick])  # rounding


def test_pump_that_never_turns_has_an_empty_area(data):
    axes = plot_gas(data.assign(pump_void_fraction=data.pump_void_fraction * np.nan))
    assert filled_paths(axes) == 0


def filled_paths(axes):
    return sum(len(area.get_paths()) for area in axes.collections if area.get_label().startswith("gas"))
