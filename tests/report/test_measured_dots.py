import numpy as np
import pytest

from measured_support import with_log
from support import truck
from ullage.api import simulate
from ullage.report.figures import plot_pressures, plot_temperatures, race_figure
from ullage.report.measured_dots import MEASURED, shown_rows
from ullage.results.display import to_display


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    time = np.arange(0.0, 601.0)
    columns = {"t": time, "p": 3.0 + np.sin(time), "c": 40.0 + 0.05 * time}
    return simulate(
        with_log(
            tmp_path_factory.mktemp("log"),
            columns,
            feed_gauge_pressure=("p", "psig"),
            pump_temperature=("c", "degC"),
            ambient_temperature=("c", "degC"),
        )
    )


def dots_of(axes):
    """Return the dots of each sensor that are drawn, those without any left out."""
    return [line for line in axes.lines if line.get_label() == MEASURED and len(line.get_xdata())]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_dots_are_measured_values_in_the_displayed_unit_and_the_colour_of_their_line(data, units):
    shown = to_display(data, units)
    for plot, variable, name in (
        (plot_temperatures, shown.measured_oil_temperature.sel(node="pump"), "pump"),
        (plot_pressures, shown.measured_feed_gauge_pressure, "feed at pump"),
    ):
        axes = plot(data, units=units)
        dots = dots_of(axes)[0]
        assert np.array_equal(dots.get_ydata(), variable.sel(time=dots.get_xdata()).values)
        line = next(line for line in axes.lines if line.get_gid() == name)
        assert dots.get_color() == line.get_color()
        assert dots.get_zorder() > line.get_zorder()
        assert "dots: measured" in axes.get_title(loc="left")


def test_nodes_without_a_sensor_have_no_dots(data):
    assert len(dots_of(plot_temperatures(data))) == 2  # pump and outside air


def test_picture_without_sensors_says_nothing_of_dots():
    data = simulate(truck())
    for plot in (plot_temperatures, plot_pressures):
        axes = plot(data)
        assert not dots_of(axes)
        assert "dots" not in axes.get_title(loc="left")


@pytest.mark.parametrize("rows", [6, 50, 601, 180_000])
def test_dots_are_few_spread_over_the_race_and_hold_values(rows):
    time = np.linspace(0.0, 18_000.0, rows)
    values = np.where(time < 9_000.0, 1.0, np.nan)
    found = shown_rows(time, values)
    assert np.isfinite(values[found]).all()
    assert len(found) == min(np.isfinite(values).sum(), 25 if rows > 50 else rows)  # half of 50
    assert time[found][0] == 0.0
    assert np.diff(time[found]).max() < 4_000.0


def test_panel_grows_for_what_was_measured_but_not_without_end(data):
    plain = plot_temperatures(data.drop_vars(["measured_oil_temperature", "measured_ambient_temperature"]))
    (low, high), height = plain.get_ylim(), np.diff(plain.get_ylim())[0]
    for value, within in ((high + 0.5 * height, True), (high + 100.0 * height, False), (low - 100.0 * height, False)):
        changed = data.copy(deep=True)
        changed["measured_oil_temperature"][1, 300] = value + 273.15
        bottom, top = plot_temperatures(changed).get_ylim()
        assert (bottom <= value <= top) == within
        assert top - bottom < 2.5 * height


def test_page_of_a_race_holds_the_dots(data):
    panels = race_figure(data, "us").axes
    assert sum(len(dots_of(axes)) for axes in panels) == 3


def test_race_of_which_nothing_was_measured_is_drawn(data):
    gone = data.assign(measured_feed_gauge_pressure=data.measured_feed_gauge_pressure * np.nan)
    assert len(dots_of(plot_pressures(gone))) == 0
    race_figure(gone)
