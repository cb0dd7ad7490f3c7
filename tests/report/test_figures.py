import io
import itertools
import json
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from support import truck
from ullage.api import simulate
from ullage.report.course import plot_course
from ullage.report.figures import (
    FOOTER,
    OVER_RATING,
    RACE_FIGURE,
    plot_pressures,
    plot_temperatures,
    race_figure,
    save_race_figure,
)
from ullage.report.traces import COLUMNS
from ullage.results.display import shown_value, to_display
from ullage.results.store import ResultsError
from ullage.results.summary import summarise

STOPS = [{"name": "first pit", "start": 1200.0, "end": 1500.0}, {"name": "fuel pit", "start": 3300.0, "end": 3600.0}]
CAP, TANK, SEAL = 110e3, 200e3, 170e3
NEEDED = 7e3


def dressed(data):
    """Return results with margins, ratings and stops, made up from the pressures that are there."""
    turning = data.pump_speed > 0.0
    over = data.feed_gauge_pressure.where(turning)
    margins = {"rating_margin": over - NEEDED, "air_margin": over - 2e3, "vapour_margin": over + 4e3}
    told = {"units": "Pa", "long_name": "margin"}
    named = data.assign({name: margin.assign_attrs(told) for name, margin in margins.items()})
    return named.assign_attrs(
        cap_relief_pressure=CAP,
        tank_rating=TANK,
        seal_rating=SEAL,
        stops=json.dumps(STOPS),
        title="test (invented data)",
    )


@pytest.fixture(scope="module")
def bare():
    drive = {"vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "15 bar"}
    events = [
        {"action": "engine off", "time": "40 min"},
        {"action": "cap off", "time": "45 min"},
        {"action": "cap on", "time": "47 min"},
        {"action": "engine on", "time": "50 min"},
    ]
    return simulate(truck({"duty.laps": 2, "duty.segment": [{"duration": "30 min", **drive}], "event": events}))


@pytest.fixture(scope="module")
def data(bare):
    return dressed(bare)


def line(axes, name):
    return next(line for line in axes.lines if line.get_gid() and line.get_gid().startswith(name))


def words(axes):
    return [text.get_text() for text in axes.texts]


def page_words(figure):
    return [text.get_text() for text in figure.texts]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("repeat", [1, 12])
def test_lines_reach_the_extremes_of_the_results_also_when_rows_are_many(data, units, repeat):
    rows = np.repeat(np.arange(data.sizes["time"]), repeat)
    shown = to_display(data, units)
    temperatures, pressures = (plot(data.isel(time=rows), units=units) for plot in (plot_temperatures, plot_pressures))
    drawn = {
        "outside air": (temperatures, shown.ambient_temperature),
        "air space": (pressures, shown.headspace_gauge_pressure),
        "feed at pump": (pressures, shown.feed_gauge_pressure),
        "pump needs": (pressures, shown.feed_gauge_pressure - shown.rating_margin),
    }
    drawn |= {
        str(node).replace("_", " "): (temperatures, shown.oil_temperature.sel(node=node)) for node in data.node.values
    }
    for name, (axes, variable) in drawn.items():
        values = line(axes, name).get_ydata()
        assert len(values) <= max(2 * COLUMNS, 1)
        assert (np.nanmin(values), np.nanmax(values)) == (float(variable.min()), float(variable.max())), name


@pytest.mark.parametrize(("units", "temperature", "pressure"), [("metric", "°C", "kPa"), ("us", "°F", "psi")])
def test_words_and_units_come_from_the_results(data, units, temperature, pressure):
    axes = plot_temperatures(data, units=units)
    assert axes.get_title(loc="left") == f"{data.oil_temperature.long_name}, {temperature}"
    assert line(axes, "pump").get_label() == f"{data.oil_temperature.long_name}, {temperature}"
    axes = plot_pressures(data, units=units)
    assert axes.get_title(loc="left").startswith(f"gauge pressure, {pressure}")
    assert line(axes, "air space").get_label() == f"{data.headspace_gauge_pressure.long_name}, {pressure}"
    assert line(axes, "feed at pump").get_label() == f"{data.feed_gauge_pressure.long_name}, {pressure}"


@pytest.mark.parametrize("units", ["metric", "us"])
def test_cap_setting_and_needed_inlet_pressure_are_lines(data, units):
    axes = plot_pressures(data, units=units)
    cap, unit = shown_value(CAP, "Pa", units)
    assert set(line(axes, "cap").get_ydata()) == {cap}
    assert any(word.startswith("cap ") and word.endswith(unit) for word in words(axes))
    needed = np.asarray(line(axes, "pump needs").get_ydata())
    # rounding of differences of pressures around 1e5 Pa
    assert needed[np.isfinite(needed)] == pytest.approx(shown_value(NEEDED, "Pa", units)[0], rel=1e-9)
    assert np.isnan(needed).any()  # the pump stands for ten minutes and needs nothing


def test_rating_is_drawn_once_its_pressure_comes_near(data):
    highest = float(data.headspace_gauge_pressure.max())
    near, far = data.assign_attrs(tank_rating=1.1 * highest), data.assign_attrs(tank_rating=2.0 * highest)
    assert any(word.startswith("tank limit") for word in words(plot_pressures(near)))
    assert not any(word.startswith("tank limit") for word in words(plot_pressures(far)))


def test_pressure_axis_holds_every_line_but_never_goes_below_full_vacuum(data):
    low, high = plot_pressures(data).get_ylim()
    assert low < float(to_display(data).headspace_gauge_pressure.min())
    assert high > shown_value(CAP, "Pa", "metric")[0]
    deep = data.assign(feed_gauge_pressure=data.feed_gauge_pressure - 5e6)
    deep.feed_gauge_pressure.attrs.update(data.feed_gauge_pressure.attrs)
    assert plot_pressures(deep).get_ylim()[0] > -150.0  # full vacuum is some -100 kPa; the rest is room


def test_names_at_the_line_ends_do_not_overlap(data):
    figure = race_figure(data.isel(time=slice(0, 1)), "metric")  # one row: the four oils are equally warm
    figure.draw_without_rendering()
    for axes in figure.axes:
        names = [text.get_window_extent() for text in axes.texts if text.get_window_extent().x0 > axes.bbox.x1]
        for above, below in itertools.pairwise(names):
            assert not above.overlaps(below)
        assert all(box.x1 <= figure.bbox.x1 for box in names)


def test_stops_are_hatched_bands_on_every_panel_with_their_names(data):
    figure = race_figure(data, "metric")
    for axes in figure.axes:
        bands = next(bands for bands in axes.collections if bands.get_label() == "_stop")
        spans = [(path.vertices[:, 0].min(), path.vertices[:, 0].max()) for path in bands.get_paths()]
        assert spans == [(stop["start"], stop["end"]) for stop in STOPS]
        assert bands.get_hatch()
    assert {"first pit", "fuel pit", "1", "2"} <= set(words(figure.axes[0]))


def test_lap_lines_stand_where_laps_begin(data):
    laps = [line for line in plot_temperatures(data).lines if line.get_label() == "_lap"]
    assert [line.get_xdata()[0] for line in laps] == [0.0, 1800.0]


def test_thousand_laps_get_a_handful_of_lines(data):
    laps = 1 + np.arange(data.sizes["time"]) * 1000 // data.sizes["time"]
    many = data.assign_coords(lap=("time", laps, data.lap.attrs))
    assert 4 <= len([line for line in plot_temperatures(many).lines if line.get_label() == "_lap"]) <= 10


def test_page_says_title_status_and_that_it_permits_nothing(data):
    assert {"test (invented data)", FOOTER} <= set(page_words(race_figure(data)))
    failed = data.assign_attrs(
        status="the reservoir has run out of oil", title="long $name_ of a race " * 9 + "(invented data)"
    )
    text = " ".join(page_words(race_figure(failed)))
    assert "Stopped after 60 min: the reservoir has run out of oil" in text
    assert "(invented data)" in text


def test_page_of_a_race_past_a_rating_says_what_its_figures_are_worth(data):
    assert OVER_RATING not in page_words(race_figure(data))
    burst = {**summarise(data), "lowest_tank_margin": -1e6}
    assert OVER_RATING in page_words(race_figure(data.assign_attrs(summary=json.dumps(burst))))


def test_last_lap_keeps_its_number_where_a_long_stop_leaves_it_little_room(data):
    # a lap of a tenth of an axis of 2.7 in is wide enough for one figure
    laps = np.where(data.time.values > 0.9 * float(data.time[-1]), 2, 1)
    axes = plot_course(data.assign_coords(lap=("time", laps, data.lap.attrs)))
    assert "2" in words(axes)


def test_big_numbers_are_those_of_the_results(data):
    text = " ".join(page_words(race_figure(data, "metric")))
    shown = to_display(data)
    assert f"{float(shown.oil_temperature.max()):.3g} °C" in text
    assert f"{float(shown.headspace_gauge_pressure.max()):.3g} kPa" in text


def test_big_number_is_rounded_once(data):
    figures = {**summarise(data), "peak_oil_temperature": {"pump": 273.15 + 95.947}}
    warmer = data.assign_attrs(summary=json.dumps(figures))
    assert "95.9 °C" in page_words(race_figure(warmer, "metric"))


def still(data):
    changed = data.copy(deep=True)
    changed.pump_speed[:] = 0.0
    return changed


def unknown(data):
    changed = data.copy(deep=True)
    for name in ("rating_margin", "air_margin", "vapour_margin"):
        changed[name][:] = np.nan
    return changed


def with_many_stops(data):
    stops = [{"name": f"stop {i} $x_", "start": 3.0 * i, "end": 3.0 * i + 1.0} for i in range(1000)]
    return data.assign_attrs(stops=json.dumps(stops))


HARD = {
    "failed at once": lambda data: data.isel(time=[0], event=[]).assign_attrs(status="it failed"),
    "pump never turns": still,
    "margins unknown": unknown,
    "thinned": lambda data: data.isel(time=slice(None, None, 300)),
    "ten seconds": lambda data: data.isel(time=slice(0, 11)),
    "no title": lambda data: data.assign_attrs(title=""),
    "many stops": with_many_stops,
}


@pytest.mark.parametrize("case", HARD)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_hard_cases_give_a_picture_for_a_phone(data, tmp_path, case, units):
    save_race_figure(HARD[case](data), tmp_path / RACE_FIGURE, units)
    with Image.open(tmp_path / RACE_FIGURE) as picture:
        assert (picture.format, picture.width) == ("PNG", 1080)
        assert 1300 <= picture.height <= 1900


def test_results_without_margins_and_settings_are_drawn_without_them(bare):
    found = words(plot_pressures(bare.assign_attrs(stops="[]")))
    assert {"air space", "feed at pump"} <= set(found)
    assert "pump needs" not in words(plot_pressures(bare.drop_vars("rating_margin", errors="ignore")))


def test_curves_can_be_told_apart_without_colour(data):
    for axes in (plot_temperatures(data), plot_pressures(data)):
        styles = [
            (str(line.get_linestyle()), line.get_linewidth(), str(line._dash_pattern))
            for line in axes.lines
            if line.get_gid()
        ]
        assert len(set(styles)) == len(styles)


def test_two_pictures_drawn_at_once_are_the_same_bytes(data, tmp_path):
    paths = [tmp_path / f"{name}.png" for name in "abcd"]
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda path: save_race_figure(data, path, "us"), paths))
    assert len({path.read_bytes() for path in paths}) == 1


def test_drawing_touches_no_global_state_of_the_plotting_library(data, tmp_path):
    code = (
        "import sys, matplotlib; before = matplotlib.rcParams.copy()\n"
        "from ullage.report.figures import save_race_figure; from ullage.results.store import open_results\n"
        f"save_race_figure(open_results({str(tmp_path / 'run.nc')!r}), {str(tmp_path / RACE_FIGURE)!r})\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
        "assert matplotlib.rcParams.copy() == before"
    )
    data.to_netcdf(tmp_path / "run.nc", engine="h5netcdf")
    done = subprocess.run(
        [sys.executable, "-W", "error:::ullage", "-c", code], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_results_given_are_left_alone(data):
    before = data.copy(deep=True)
    race_figure(data, "us")
    assert data.identical(before)


def test_failed_write_leaves_the_old_picture_and_no_part(data, tmp_path, monkeypatch):
    (tmp_path / RACE_FIGURE).write_bytes(b"old")

    def full(*_):
        raise OSError("No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(ResultsError, match=r"race\.png: cannot be written: No space left"):
        save_race_figure(data, tmp_path / RACE_FIGURE)
    assert [path.name for path in tmp_path.iterdir()] == [RACE_FIGURE]
    assert (tmp_path / RACE_FIGURE).read_bytes() == b"old"


def test_folder_that_is_not_there_is_said(data, tmp_path):
    with pytest.raises(ResultsError, match="cannot be written"):
        save_race_figure(data, tmp_path / "none" / RACE_FIGURE)


def test_picture_shows_ink_for_each_curve(data):
    figure = race_figure(data, "metric")
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=80)
    pixels = np.asarray(Image.open(buffer).convert("RGB")).reshape(-1, 3).astype(int)
    for color in ((0xD7, 0x30, 0x1F), (0x4A, 0xA3, 0xDF)):
        # within what smoothing of a thin line leaves of its colour
        assert (np.abs(pixels - np.array(color)).max(axis=1) < 40).sum() > 50
