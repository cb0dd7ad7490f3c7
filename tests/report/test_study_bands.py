import numpy as np
import pytest
from PIL import Image

from page import check_words, words_of
from study_data import grid, study
from ullage.errors import UllageError
from ullage.kernel.state import NODES
from ullage.report.study_bands import BANDS_FIGURE, PERCENTS, bands_figure, percentiles, save_study_bands

TIME = np.arange(0.0, 3601.0, 60.0)
MEMBERS = 101


def traced(variables=("oil_temperature", "headspace_gauge_pressure", "feed_gauge_pressure", "oil_level"), **changes):
    """Return a study whose members differ by one number each, from 0 to 1."""
    data = study({"pump.friction": np.linspace(0.02, 0.1, MEMBERS)}, method="sobol", **changes)
    part = np.random.default_rng(1).permutation(np.linspace(0.0, 1.0, MEMBERS))[:, None]
    warm = 300.0 + 80.0 * (1.0 - np.exp(-TIME / 600.0)) + 20.0 * part
    made = {
        "headspace_gauge_pressure": 1e5 * part * TIME / TIME[-1],
        "feed_gauge_pressure": -1.4e4 + 1e5 * part * TIME / TIME[-1],
        "oil_level": 0.8 + 0.2 * part + 0.0 * TIME,
        "rating_margin": 1e4 * part - 2e3 + 0.0 * TIME,
    }
    for name in set(variables) & set(made):
        data[name] = ("traced_member", "time"), made[name]
    if "oil_temperature" in variables:
        places = np.stack([warm - 5.0 * number for number in range(len(NODES))], axis=1)
        data["oil_temperature"] = ("traced_member", "node", "time"), places
    data.attrs["cap_relief_pressure"] = 110e3
    return data.assign_coords(traced_member=np.arange(MEMBERS), time=TIME)


def failing():
    status = np.where(np.arange(MEMBERS) % 10 == 3, "the reservoir has run out of oil", "done")
    data = traced(status=status)
    for name in ("headspace_gauge_pressure", "oil_level"):
        data[name][status != "done", 30:] = np.nan
    return data


def long_title():
    data = traced()
    data.attrs["title"] = "uncertain inputs of a study with a long name " * 4
    return data


HARD = {"plain": traced, "failing": failing, "long title": long_title, "one": lambda: traced(("rating_margin",))}


@pytest.mark.parametrize("case", HARD)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_words_leave_the_page_or_cover_others(case, units):
    check_words(bands_figure(HARD[case](), units))


def test_bands_are_the_percentiles_of_the_members():
    time, found = percentiles(traced(), "oil_level")
    # 101 members evenly from 0.8 to 1.0: the percentiles fall on members
    np.testing.assert_allclose(
        found, np.repeat(0.8 + 0.002 * np.array(PERCENTS)[:, None], len(time), axis=1), rtol=1e-12
    )


def test_of_the_oil_the_hottest_place_counts():
    data = traced()
    np.testing.assert_allclose(
        percentiles(data, "oil_temperature")[1],
        np.percentile(data.oil_temperature.max("node"), PERCENTS, axis=0),
        rtol=1e-12,  # the same sums
    )


def test_bands_end_where_half_of_the_members_have_ended():
    data = traced()
    data.oil_level[40:, 30:] = np.nan
    time, found = percentiles(data, "oil_level")
    assert time[-1] == TIME[29]
    assert np.isfinite(found).all()


def test_bands_have_a_gap_where_the_pumps_stand():
    data = traced(("rating_margin",))
    data.rating_margin[:, 10:20] = np.nan
    time, found = percentiles(data, "rating_margin")
    np.testing.assert_array_equal(time, TIME)
    np.testing.assert_array_equal(
        np.isnan(found).any(axis=0), (np.arange(len(TIME)) >= 10) & (np.arange(len(TIME)) < 20)
    )


def test_limits_are_drawn_and_named_where_the_bands_come_near():
    text = " ".join(text for text, _ in words_of(bands_figure(traced(), "us")))
    for part in ("worrying 248 °F", "cap 16 psi", "suction \N{MINUS SIGN}2.46 psi", "full 0.95"):
        assert part in text
    cold = traced(("oil_temperature",))
    cold["oil_temperature"] = cold.oil_temperature - 60.0
    assert "worrying" not in " ".join(text for text, _ in words_of(bands_figure(cold, "us")))


def test_members_and_failed_ones_are_counted():
    text = " ".join(text for text, _ in words_of(bands_figure(failing(), "us")))
    assert "101 races, 10 not finished, counted till they stop." in text


@pytest.mark.parametrize(
    "data", [grid({"reservoir.fill": [0.7, 0.8]}), study({"reservoir.fill": [0.7]}, method="table")]
)
def test_members_of_unequal_weight_have_no_bands(data):
    with pytest.raises(UllageError, match="equal weight"):
        bands_figure(data)


def test_a_study_without_traces_has_no_bands():
    with pytest.raises(UllageError, match="traces"):
        bands_figure(study({"reservoir.fill": [0.7, 0.8]}))


def test_the_picture_is_one_for_a_phone(tmp_path):
    save_study_bands(traced(), tmp_path / BANDS_FIGURE, "us")
    with Image.open(tmp_path / BANDS_FIGURE) as picture:
        assert (picture.format, picture.width) == ("PNG", 1080)
