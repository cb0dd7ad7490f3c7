import subprocess
import sys

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from support import truck
from ullage.report.duty_figure import duty_figure, plot_duty, save_duty_figure
from ullage.report.traces import COLUMNS
from ullage.results.display import to_display
from ullage.results.duty_cycle import duty_cycle
from ullage.results.store import ResultsError

SEGMENT = {
    "length": "40 km",
    "vehicle_speed": "45 km/h",
    "vehicle_speed_spread": "8 km/h",
    "engine_speed": "4200 rpm",
    "engine_speed_spread": "450 rpm",
    "steering_load": "22 bar",
    "steering_load_spread": "12 bar",
    "steering_load_peak": "80 bar",
    "elevation": "300 m",
}
LOCK = {"duration": "4 s", "engine_speed": "3000 rpm", "steering_load": "130 bar", "elevation": "0 m"}
STOPS = [{"name": "fuel $pit$ \u200b", "after_lap": 1, "duration": "10 min", "engine": "off"}]
CHANNELS = ("vehicle_speed", "engine_speed", "steering_load", "elevation")


@pytest.fixture(scope="module")
def duty():
    return duty_cycle(truck({"duty": {"seed": 2, "laps": 2, "segment": [SEGMENT, LOCK], "stop": STOPS}}))


def words(axes):
    return [text.get_text() for text in axes.texts]


def trace(axes, name):
    return next(line for line in axes.lines if line.get_gid() == name)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", CHANNELS)
def test_lines_reach_the_extremes_of_the_channels_though_rows_are_many(duty, name, units):
    assert duty.sizes["time"] > 2 * COLUMNS
    axes = plot_duty(duty, name, units=units)
    drawn = np.asarray(trace(axes, name).get_ydata())
    shown = to_display(duty[[name]], units)[name]
    assert len(drawn) <= 2 * COLUMNS
    assert (drawn.min(), drawn.max()) == (float(shown.min()), float(shown.max()))
    low, high = axes.get_ylim()
    assert low <= drawn.min() <= drawn.max() <= high


@pytest.mark.parametrize(
    ("units", "titles"),
    [
        ("metric", ["vehicle speed, km/h", "engine speed, rpm", "steering load, bar", "elevation, m"]),
        ("us", ["vehicle speed, mph", "engine speed, rpm", "steering load, psi", "elevation, ft"]),
    ],
)
def test_page_has_a_panel_for_each_channel_in_the_units_asked(duty, units, titles):
    course, *panels = duty_figure(duty, units).axes
    assert [panel.get_title(loc="left").split(" (")[0] for panel in panels] == titles
    assert words(course)[:2] == ["1", "2"]
    assert {panel.get_xlim() for panel in panels} == {course.get_xlim()}


def test_numbers_beside_a_panel_are_those_of_the_statistics(duty):
    assert words(plot_duty(duty, "elevation")) == ["up 600", "down 600"]
    load = words(plot_duty(duty, "steering_load"))
    # 8 s on the lock of two laps of 40 km at 45 km/h, 6408 s
    assert load[2:] == ["highest 130", "over relief", "0.12 %"]
    assert words(plot_duty(duty, "steering_load", units="us"))[2] == "highest 1890"


def test_a_constant_channel_has_no_spread_beside_it(duty):
    assert words(plot_duty(duty, "vehicle_speed"))[1].startswith("\N{PLUS-MINUS SIGN} ")
    steady = duty_cycle(truck({"duty.laps": 3}))
    assert words(plot_duty(steady, "vehicle_speed")) == ["mean 60", "highest 60"]


def test_relief_setting_is_drawn_once_the_load_comes_near(duty):
    assert list(trace(plot_duty(duty, "steering_load"), "relief").get_ydata()) == pytest.approx([110.0, 110.0])
    far = duty.assign_attrs(pump_relief_pressure=2.0 * float(duty.steering_load.max()))
    assert [line for line in plot_duty(far, "steering_load").lines if line.get_gid() == "relief"] == []


def test_a_truck_that_stands_has_a_page_too(tmp_path):
    parked = duty_cycle(truck({"duty.segment": [{"duration": "1 h", "engine_speed": "0 rpm"}]}))
    save_duty_figure(parked, tmp_path / "duty.png")
    assert words(plot_duty(parked, "elevation")) == ["up 0", "down 0"]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_word_leaves_the_page_or_covers_another(duty, units):
    figure = duty_figure(duty, units)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    boxes = [
        (text.get_text(), text.get_window_extent(renderer))
        for axes in figure.axes
        for text in [*axes.texts, axes.title, axes._left_title, axes.xaxis.label, *axes.get_yticklabels()]
        if text.get_text() and text.get_visible()
    ]
    page = figure.bbox
    assert [text for text, box in boxes if box.x0 < 0.0 or box.x1 > page.x1 or box.y0 < 0.0 or box.y1 > page.y1] == []
    covered = [(a, b) for i, (a, one) in enumerate(boxes) for b, two in boxes[:i] if one.overlaps(two)]
    assert covered == []


def test_picture_is_as_wide_as_a_phone_and_replaces_an_older_one(duty, tmp_path):
    path = tmp_path / "duty.png"
    path.write_text("old")
    save_duty_figure(duty, path)
    with Image.open(path) as picture:
        assert picture.size[0] == 1080
    assert [each.name for each in tmp_path.iterdir()] == ["duty.png"]
    with pytest.raises(ResultsError, match="cannot be written"):
        save_duty_figure(duty, tmp_path / "none" / "duty.png")


def test_drawing_leaves_no_state_and_needs_no_window():
    code = (
        "import sys; sys.path.insert(0, 'tests'); import ullage.report.duty_figure; "
        "assert 'matplotlib.pyplot' not in sys.modules"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, capture_output=True).returncode == 0
