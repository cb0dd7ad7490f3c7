from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from PIL import Image

from page import check_words, words_of
from study_data import grid, study
from ullage.errors import UllageError
from ullage.report.figures import FOOTER
from ullage.report.study_map import MAP_FIGURE, map_figure, save_study_map

PSI = 6894.757
FILLS, CAPS = np.linspace(0.70, 0.95, 26), np.arange(5, 21) * PSI
BASE = '[reservoir]\nfill = "80 %"\n[cap]\nrelief_pressure = "16 psi"\n'


def chart(**changes):
    """Return a builder's chart: overfull from 0.86 on, lifts where cap and fill ask for it."""
    figures = {
        "highest_oil_level": lambda fill, cap: fill + 0.09 + 0.0 * cap,
        "relief_openings": lambda fill, cap: np.where(cap / PSI < 5.0 + 30.0 * (fill - 0.7) ** 1.2, 3.0, 0.0),
        "cavitation_exposure": lambda fill, cap: 4000.0 - 2000.0 * fill + 0.001 * cap,
    }
    data = grid({"reservoir.fill": FILLS, "cap.relief_pressure": CAPS}, figures | changes)
    data.attrs["scenario_toml"] = BASE
    return data


def everything():
    """Return a chart with every region, some of them small or over each other, and a long title."""
    data = chart(
        peak_oil_temperature=lambda fill, cap: np.where(fill < 0.745, 410.0, 395.0) + 0.0 * cap,
        lowest_rating_margin=lambda fill, cap: 1e4 * (cap / PSI - 6.5) + 1e5 * (0.9 - fill),
        lowest_tank_margin=lambda fill, cap: 1e4 * (19.0 - cap / PSI) + 5e5 * (0.91 - fill),
        time_starved=lambda fill, cap: np.where((fill < 0.72) & (cap < 7.5 * PSI), 3.0, 0.0),
    )
    corner = (data.reservoir_fill.values > 0.93) & (data.cap_relief_pressure.values > 16 * PSI)
    data["status"] = "member", np.where(corner, "the reservoir has run out of oil", "done")
    data.attrs["title"] = "a very long title of a study of fill and cap that goes on and on " * 3
    return data


def rows():
    numbers = np.tile(np.arange(4), 11)
    inputs = {
        "reservoir.fill": np.repeat(np.linspace(0.7, 0.95, 11), 4),
        "cooler.face_area": np.array([0.06, 0.09, 0.03, 0.05])[numbers],
        "cooler.oil_volume": np.array([1.6e-3, 2.1e-3, 1e-3, 1.2e-3])[numbers],
    }
    axes = [{"keys": ["reservoir.fill"]}, {"keys": ["cooler.face_area", "cooler.oil_volume"]}]
    return study(inputs, {"relief_openings": (numbers == 3) * 4.0}, method="grid", axes=axes)


def kinds():
    return grid({"cap.kind": np.array(["sealed", "vented"]), "fluid.preset": np.array(["thin", "thick"])})


def three_axes():
    inputs = {
        "cap.kind": np.array(["sealed", "vented"]),
        "reservoir.fill": FILLS[::5],
        "cap.relief_pressure": CAPS[::5],
    }
    return grid(
        inputs, {"relief_openings": lambda kind, _fill, cap: np.where((kind == "sealed") & (cap < 6 * PSI), 1, 0)}
    )


def none_finished():
    data = chart()
    data["status"] = "member", np.full(len(data.member), "it broke")
    return data


def dots():
    """Return a chart of lonely cells."""
    scattered = np.random.default_rng(3).random(len(FILLS) * len(CAPS)) < 0.1
    return chart(relief_openings=np.where(scattered, 2.0, 0.0))


HARD = {each.__name__: each for each in (chart, everything, rows, kinds, three_axes, none_finished, dots)}


def hatched(figure):
    """Return the shaded path of each region by its name, as points of the data inside it."""
    return {patch.get_gid(): patch for patch in figure.axes[0].patches if patch.get_gid()}


def text_of(figure):
    return " ".join(text for text, _ in words_of(figure))


@pytest.mark.parametrize("case", HARD)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_words_leave_the_page_or_cover_others(case, units):
    check_words(map_figure(HARD[case](), units))


@pytest.mark.parametrize("case", HARD)
def test_hard_cases_give_a_picture_for_a_phone(tmp_path, case):
    save_study_map(HARD[case](), tmp_path / MAP_FIGURE, "us")
    with Image.open(tmp_path / MAP_FIGURE) as picture:
        assert (picture.format, picture.width) == ("PNG", 1080)
        assert 1000 <= picture.height <= 2300


def test_a_region_holds_its_members_and_no_other():
    data = chart()
    region = hatched(map_figure(data, "us"))["cap lifts"].get_path()
    points = np.column_stack([100.0 * data.reservoir_fill.values, data.cap_relief_pressure.values / PSI])
    boxes = [part.get_extents() for part in _boxes(region)]
    inside = [any(box.contains(*point) for box in boxes) for point in points]
    assert inside == (data.relief_openings.values > 0.0).tolist()


def _boxes(path):
    for vertices in np.split(path.vertices, np.flatnonzero(path.codes == 1)[1:]):
        yield type(path)(vertices)


def test_regions_are_told_apart_without_colour_and_named_on_the_map_and_beside_it():
    figure = map_figure(everything(), "us")
    found = hatched(figure)
    assert set(found) == {
        "too hot",
        "cap lifts",
        "tank full",
        "below rating",
        "pump starves",
        "much gas",
        "over a rating",
        "not finished",
    }
    assert len({patch.get_hatch() for patch in found.values()}) == len(found)
    on_map = [text.get_text() for text in figure.axes[0].texts]
    for name in found:
        assert on_map.count(name) == 1
        assert any(text.get_text().startswith(f"{name}: ") for text in figure.texts)


def test_the_legend_says_with_what_number():
    text = text_of(map_figure(everything(), "us"))
    for part in ("oil at 275 °F", "one lift or more", "95 % full", "tank 30 psi, seal 25 psi", FOOTER):
        assert part in text


def test_what_holds_everywhere_makes_the_map_grey_and_is_said():
    figure = map_figure(chart(peak_oil_temperature=420.0), "metric")
    assert "too hot" not in hatched(figure)
    assert "ALL OVER THE MAP, hence grey: too hot, oil at 135 °C" in text_of(figure)


def test_the_scenarios_own_point_is_marked_where_it_lies_in_the_map():
    marks = [line for line in map_figure(chart(), "us").axes[0].lines if line.get_marker() == "D"]
    # 16 psi and 80 %, by units to seven digits
    assert [(line.get_xdata()[0], line.get_ydata()[0]) for line in marks] == [pytest.approx((80.0, 16.0), rel=1e-6)]
    away = chart()
    away.attrs["scenario_toml"] = BASE.replace("80", "60")
    figure = map_figure(away, "us")
    assert not [line for line in figure.axes[0].lines if line.get_marker() == "D"]
    assert "the scenario as it is" not in text_of(figure)


def test_axes_have_the_trades_words_and_the_chosen_units():
    axes = map_figure(chart(), "metric").axes[0]
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("cold fill mark, %", "cap rating, kPa")


def test_numbers_on_the_map_are_those_of_the_members():
    data = chart()
    axes = map_figure(data, "us").axes[0]
    numbers = [text for text in axes.texts if text.get_text().replace(".", "").isdigit()]
    assert len(numbers) >= 10
    for text in numbers:
        x, y = text.get_position()
        off = np.hypot(100 * data.reservoir_fill - x, data.cap_relief_pressure / PSI - y)
        # minutes, with three digits
        assert float(text.get_text()) == pytest.approx(
            float(data.cavitation_exposure[int(off.values.argmin())]) / 60.0, abs=0.06
        )


def test_another_figure_can_be_asked_for():
    text = text_of(map_figure(chart(), "us", "lowest_feed_gauge_pressure"))
    assert "lowest pressure at the pump inlet port, psi gauge" in text


def test_a_third_axis_is_taken_at_its_worst_and_that_is_said():
    figure = map_figure(three_axes(), "us")
    assert "everywhere the worst over cap kind" in text_of(figure)
    assert "cap lifts" in hatched(figure)


@pytest.mark.parametrize(
    "data", [study({"reservoir.fill": FILLS}, method="random"), grid({"reservoir.fill": FILLS}), grid({"a.b": [1.0]})]
)
def test_without_two_axes_of_a_grid_there_is_no_map(data):
    with pytest.raises(UllageError, match="two axes"):
        map_figure(data)


def test_results_given_are_left_alone_and_two_pictures_at_once_are_the_same(tmp_path):
    data = everything()
    before = data.copy(deep=True)
    paths = [tmp_path / f"{name}.png" for name in "ab"]
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda path: save_study_map(data, path, "us"), paths))
    assert paths[0].read_bytes() == paths[1].read_bytes()
    assert data.identical(before)
