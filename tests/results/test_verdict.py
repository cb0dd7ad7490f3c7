import json

import pytest

from support import truck
from ullage.api import simulate
from ullage.results.summary import summarise
from ullage.results.verdict import duration_text, verdicts


@pytest.fixture(scope="module")
def data():
    return simulate(truck())


def judged(data, about, units="metric", **changes):
    """Return the verdict of one line after some figures were changed."""
    figures = {**summarise(data), **changes}
    found = verdicts(data.assign_attrs(summary=json.dumps(figures)), units)
    return next(verdict for verdict in found if verdict.about == about)


def peaks(celsius):
    return {"peak_oil_temperature": {"reservoir": 300.0, "pump": celsius + 273.15}}


OPENED_HOT = [{"time": 1.0, "hottest_oil": 350.0, "gauge_pressure": 5e4}]
LEAK = {"name": "seal leak", "begin": 60.0, "end": None, "lap": 1}
OPENED_COLD = [{"time": 1.0, "hottest_oil": 300.0, "gauge_pressure": 0.0}]


@pytest.mark.parametrize(
    ("about", "changes", "light"),
    [
        ("hottest oil", peaks(119.9), "green"),
        ("hottest oil", peaks(120.1), "amber"),
        ("hottest oil", peaks(135.1), "red"),
        ("lowest feed", {"lowest_feed_gauge_pressure": -16.9e3}, "green"),
        ("lowest feed", {"lowest_feed_gauge_pressure": -17.0e3}, "amber"),
        ("lowest feed", {"time_starved": 0.5}, "red"),
        ("lowest feed", {"lowest_vapour_margin": 25.1e3}, "green"),
        ("lowest feed", {"lowest_vapour_margin": 24.9e3}, "red"),
        ("what the pump needs", {"time_below_rating": 0.0}, "green"),
        ("what the pump needs", {"time_below_rating": 5.0}, "amber"),
        ("what the pump needs", {"time_below_rating": 7.0}, "red"),
        ("gas at the pump", {"cavitation_exposure": 29.0}, "green"),
        ("gas at the pump", {"cavitation_exposure": 30.0}, "amber"),
        ("gas at the pump", {"cavitation_exposure": 1.0, "highest_pump_void_fraction": 0.049}, "green"),
        ("gas at the pump", {"cavitation_exposure": 1.0, "highest_pump_void_fraction": 0.051}, "amber"),
        ("gas at the pump", {"lowest_sight_glass_transmittance": 0.5}, "green"),
        ("gas at the pump", {"lowest_sight_glass_transmittance": 0.49}, "amber"),
        ("gas at the pump", {"cavitation_exposure": 148.0}, "amber"),
        ("gas at the pump", {"cavitation_exposure": 150.0}, "red"),
        ("gas at the pump", {"cavitation_exposure": 1.0, "highest_pump_void_fraction": 0.199}, "amber"),
        ("gas at the pump", {"cavitation_exposure": 1.0, "highest_pump_void_fraction": 0.201}, "red"),
        ("gas at the pump", {"cavitation_exposure": 1.0, "time_starved": 0.5}, "red"),
        ("gas at the pump", {"cavitation_exposure": 1.0, "time_chambers_unfilled": 0.5}, "red"),
        ("oil in the tank", {"highest_oil_level": 0.94}, "green"),
        ("oil in the tank", {"highest_oil_level": 0.96}, "amber"),
        ("oil in the tank", {"highest_oil_level": 1.0}, "red"),
        ("oil in the tank", {"time_outlet_uncovered": 0.5}, "amber"),
        ("oil in the tank", {"oil_lost": 0.01}, "red"),
        ("oil in the tank", {"oil_drawn_off": 0.5}, "green"),
        ("air space", {"highest_headspace_gauge_pressure": 98e3}, "green"),
        ("air space", {"highest_headspace_gauge_pressure": 101e3}, "amber"),
        ("air space", {"faults": [LEAK]}, "amber"),
        ("air space", {"air_vented": 1e-4}, "amber"),
        ("air space", {"air_vented": 1e-4, "relief_openings": 1}, "green"),
        ("air space", {"lowest_seal_margin": -1.0}, "red"),
        ("air space", {"lowest_tank_margin": -1.0}, "red"),
        ("cap", {"relief_openings": 0}, "green"),
        ("cap", {"relief_openings": 1}, "amber"),
        ("cap", {"faults": [{**LEAK, "name": "relief stuck shut"}]}, "amber"),
        ("cap", {"relief_openings": 21}, "red"),
        ("cap", {"cap_openings": OPENED_COLD}, "amber"),
        ("cap", {"cap_openings": OPENED_HOT}, "red"),
    ],
)
def test_light_changes_at_the_number_that_sets_it(data, about, changes, light):
    # the pump turns for 595 s after the first five: one per cent is 5.95 s, five 29.75 s, 25 are 148.75 s
    assert judged(data, about, **changes).light == light


def test_number_that_sets_a_light_stands_beside_it(data):
    assert judged(data, "hottest oil").limit == "amber from 120 degC, red from 135 degC"
    assert judged(data, "hottest oil", "us").limit == "amber from 248 degF, red from 275 degF"
    assert judged(data, "air space", "us").limit == "amber from 90 % of the 16 psi cap, red over a rating"
    assert (
        judged(data, "lowest feed", "us").limit == "amber from 5 inHg vac, red near full vacuum or boiling, or starving"
    )


def test_need_of_the_pump_says_what_is_left_or_how_short_and_when(data):
    figures = {"lowest_rating_margin": 2e3, "lowest_rating_time": 3725.0, "time_below_rating": 0.0}
    assert judged(data, "what the pump needs", **figures).found == "2 kPa left at 1:02:05"
    short = {**figures, "lowest_rating_margin": -2e3, "time_below_rating": 90.0}
    assert judged(data, "what the pump needs", **short).found == "short for 90 s of 9.93 min, by 2 kPa at 1:02:05"


@pytest.mark.parametrize(
    ("transmittance", "words"),
    [
        (0.9, "glass clear"),
        (0.899, "glass hazy"),
        (0.5, "glass hazy"),
        (0.499, "glass milky"),
    ],
)
def test_gas_at_the_pump_says_how_long_and_how_the_glass_looks(data, transmittance, words):
    gas = {"cavitation_exposure": 90.0, "lowest_sight_glass_transmittance": transmittance}
    much = {**gas, "highest_pump_void_fraction": 0.078, "highest_pump_void_time": 125.0, "highest_pump_void_lap": 2}
    assert judged(data, "gas at the pump", **much).found == f"90 s of 9.93 min, most 8 % at 0:02:05, {words}"
    assert judged(data, "gas at the pump", **much, laps=3).found == f"90 s of 9.93 min, most 8 % lap 2, {words}"
    none = judged(data, "gas at the pump", **gas, highest_pump_void_fraction=0.004)
    assert none.found == f"90 s of 9.93 min, {words}"
    assert none.limit == "amber: 5 % of the time, 5 % gas or milky, red: 25 %, 20 % or starving"


def test_starving_line_has_no_figure_that_cannot_be(data):
    starved = {"lowest_feed_gauge_pressure": -2.5e6, "lowest_feed_lap": 2, "time_starved": 3.0, "laps": 3}
    assert judged(data, "lowest feed", **starved).found == "the line starves, lap 2"


def test_figures_are_said_in_the_units_of_the_crew(data):
    lost = {"oil_lost": 0.4536, "lowest_oil_level": 0.6, "highest_oil_level": 0.97}
    assert judged(data, "oil in the tank", "us", **lost).found == "60 to 97 % full, 1 lb of oil lost"
    assert judged(data, "oil in the tank", "metric", **lost).found == "60 to 97 % full, 450 g of oil lost"
    drawn = judged(data, "oil in the tank", "us", oil_lost=0.0, oil_drawn_off=0.4536)
    assert drawn.found.endswith("0 lb of oil lost, 1 lb drawn off")
    feed = {"lowest_feed_gauge_pressure": -16931.945, "lowest_feed_lap": 3, "laps": 3}
    assert judged(data, "lowest feed", "us", **feed).found == "5 inHg vac, lap 3"
    assert judged(data, "lowest feed", "metric", **feed).found == "-16.9 kPa gauge, lap 3"


def test_vented_cap_and_standing_pump_have_no_lines_that_say_nothing(data):
    vented = simulate(truck({"cap.kind": "vented"}))
    assert judged(vented, "air space").limit == "vented cap"
    still = data.assign_attrs(summary=json.dumps({**summarise(data), "lowest_feed_gauge_pressure": None}))
    assert [verdict.about for verdict in verdicts(still, "us")] == [
        "hottest oil",
        "oil in the tank",
        "cap",
        "air space",
    ]


def test_many_lifts_are_not_counted_to_six_digits(data):
    assert judged(data, "cap", relief_openings=123456).found == "lifts over 1000, taken off 0"


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0, "0 s"), (59.94, "59.9 s"), (120.0, "2 min"), (7199.0, "120 min"), (18396.0, "5.11 h")]
)
def test_duration_has_the_unit_that_suits_it(seconds, text):
    assert duration_text(seconds) == text


def test_figure_just_under_its_limit_does_not_read_as_the_limit(data):
    found = judged(data, "hottest oil", "us", **peaks(119.99), laps=2, peak_oil_lap=1).found
    assert found == "just under 248 degF in the pump, lap 1"
    assert judged(data, "hottest oil", "us", **peaks(120.01)).found.startswith("248 degF")
    assert judged(data, "hottest oil", "us", **peaks(134.99)).found.startswith("just under 275 degF")


def test_feed_near_boiling_says_how_near(data):
    near = {"lowest_feed_gauge_pressure": -79e3, "lowest_vapour_margin": 12e3, "lowest_feed_lap": 2, "laps": 3}
    found = judged(data, "lowest feed", **near).found
    assert found == "-79 kPa gauge, lap 2; 12 kPa from full vacuum"
    found = judged(data, "lowest feed", **near, highest_vapour_pressure=3e4).found
    assert found.endswith("12 kPa from boiling")


def test_race_of_one_lap_tells_times_instead(data):
    single = {"peak_oil_time": 125.0, "lowest_feed_time": 65.0, "laps": 1}
    assert judged(data, "hottest oil", **single).found.endswith("at 0:02:05")
    assert judged(data, "lowest feed", **single).found.endswith("at 0:01:05")


def test_tank_that_does_not_hold_says_so_and_the_cap_names_its_fault(data):
    assert judged(data, "air space", faults=[LEAK]).found.endswith(" at most, does not hold")
    assert judged(data, "cap", faults=[LEAK, LEAK]).found == "lifts 0, taken off 0, seal leak"


def test_tank_with_a_breath_of_air_left_is_not_called_full(data):
    assert " to over 99 % full" in judged(data, "oil in the tank", highest_oil_level=0.996).found
    assert " to 100 % full" in judged(data, "oil in the tank", highest_oil_level=1.0).found
