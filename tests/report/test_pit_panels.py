import json

import numpy as np
import pytest

from stop_support import HARD, PLANNED, STINT, stop_choices
from ullage.report.pit_panels import first_minutes, plot_feed, plot_gas_minutes, plot_stop
from ullage.results.display import shown_value


@pytest.fixture(scope="module")
def choices():
    return stop_choices()


def lines(axes):
    return {line.get_gid(): line for line in axes.lines if line.get_gid()}


def words(axes):
    return [text.get_text() for text in axes.texts]


def test_choice_that_waits_is_drawn_from_where_it_drives_off(choices):
    axes = plot_gas_minutes(choices)
    assert axes.get_xlim() == (0.0, STINT)
    for name in ("shut", "cool, then open", "cool, engine off"):
        assert lines(axes)[name].get_xdata()[0] == 0.0, name


def test_first_minutes_end_past_the_last_refit_that_does_not_wait(choices):
    assert first_minutes(choices) == 240.0 + 300.0
    assert first_minutes(choices.sel(choice=["shut"])) == PLANNED + 300.0
    assert plot_stop(choices).get_xlim()[1] == 540.0


def test_choice_that_opens_later_than_the_picture_has_its_time_beside_its_name(choices):
    assert {"opens at 62 min", "opens at 2 h"} <= set(words(plot_stop(choices)))


def test_cap_off_and_on_are_marked_on_the_lines(choices):
    marks = [line for line in plot_stop(choices).lines if line.get_label() == "_cap"]
    times = {
        face: {line.get_xdata()[0] for line in marks if line.get_markerfacecolor() == face}
        for face in ("white", "black")
    }
    assert times == {"white": {120.0}, "black": {180.0, 240.0}}


@pytest.mark.parametrize("units", ["metric", "us"])
def test_pressures_are_those_of_the_results(choices, units):
    drawn = lines(plot_stop(choices, units=units))["refit"].get_ydata()
    told = choices.headspace_gauge_pressure.sel(choice="refit", time_since_stop=slice(0.0, 540.0)).values
    # one conversion
    assert drawn == pytest.approx(shown_value(told, "Pa", units)[0], rel=1e-12, nan_ok=True)


def test_opening_is_steep_however_long_another_choice_waits(choices):
    time = np.arange(0.0, 20000.0, 1.0)
    fine = choices.drop_vars("oil_temperature", errors="ignore").interp(time_since_stop=time)
    line = lines(plot_stop(fine))["refit"]
    assert np.diff(line.get_xdata()).max() == 1.0


def test_feed_is_a_running_mean_that_its_title_tells_with_a_gap_where_the_pump_stands(choices):
    axes = plot_feed(choices, units="us")
    assert axes.get_title(loc="left") == "feed at the pump, psi (mean over 90 s)"
    line = lines(axes)["shut"]
    values = np.asarray(line.get_ydata())
    # shut keeps 12 psi and the line takes 5: a constant is its own mean; rounding of sums
    assert values[np.isfinite(values)] == pytest.approx(7.0, rel=1e-6)
    time = np.asarray(line.get_xdata())
    gap = time[np.isnan(values) & (time <= STINT)]
    assert (gap.min(), gap.max()) == (2410.0, 2690.0)


def test_gas_is_in_minutes_and_ends_at_the_exposure_of_the_choice(choices):
    drawn = lines(plot_gas_minutes(choices))
    for label in ("shut", "refit"):
        told = float(choices.cavitation_exposure.sel(choice=label)) / 60.0
        assert np.nanmax(drawn[label].get_ydata()) == pytest.approx(told, rel=1e-12)  # one division


def test_lines_that_lie_on_each_other_get_one_name():
    alike = stop_choices(("shut", "refit", "same_as_refit", "left_off"))
    axes = plot_gas_minutes(alike)
    assert words(axes) == ["left off", "refit,", "same as refit", "shut"]
    samples = [line for line in axes.lines if line.get_label() == "_sample"]
    assert len({(str(line._dash_pattern), line.get_linewidth()) for line in samples}) == 4


def test_planned_stop_and_later_stops_are_hatched(choices):
    later = {"name": "fuel pit", "start": 8786.1 + PLANNED + 1000.0, "end": 8786.1 + PLANNED + 1480.0}
    told = choices.assign_attrs(stops=json.dumps([{"name": "first pit", "start": 8786.1, "end": 9146.1}, later]))
    spans = []
    for axes in (plot_stop(told), plot_feed(told)):
        bands = next(bands for bands in axes.collections if bands.get_label() == "_stop")
        assert bands.get_hatch()
        spans += [(path.vertices[:, 0].min(), path.vertices[:, 0].max()) for path in bands.get_paths()]
    # rounding of race times of 1e4 s
    assert np.array(spans) == pytest.approx(np.array([(0.0, PLANNED), (1000.0, 1480.0)]), abs=1e-6)


def test_end_of_a_choice_that_fails_is_marked(choices):
    axes = plot_gas_minutes(HARD["two fail"](choices))
    crosses = [line for line in axes.lines if line.get_label() == "_failed"]
    assert [line.get_xdata()[0] for line in crosses] == [1490.0 - PLANNED]


def test_pump_that_never_turns_leaves_words_instead_of_lines(choices):
    for axes in (plot_feed(HARD["pump never turns"](choices)), plot_gas_minutes(HARD["pump never turns"](choices))):
        assert words(axes) == ["nothing to show: the pump stands"]
