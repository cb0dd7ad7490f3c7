import json
import re

import pytest

from support import truck
from ullage.api import simulate
from ullage.results.screen import summary_text
from ullage.results.summary import summarise

BUSY = {
    "cap.relief_pressure": "3 psi",
    "start.temperature": "40 degC",
    "reservoir.fill": 0.85,
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "1 min"}],
}


@pytest.fixture(scope="module")
def data():
    return simulate(truck(BUSY))


# a tank that lost no air, at its opening or through the cap
SHUT = {"air_vented": 0.0, "relief_openings": 0, "air_excess_pressure": 0.0, "air_dissolved_share": 1.2}


def said(data, units="metric", **changes):
    """Return the screen as one line of text after some figures were changed."""
    changed = data.assign_attrs(summary=json.dumps({**summarise(data), **changes}))
    return " ".join(summary_text(changed, units).split())


def test_screen_is_one_screen_of_a_phone(data):
    lines = summary_text(data, "us").split("\n")
    assert lines[0] == "test truck (invented data)"
    assert lines[1] == "12.4 mile, 2 laps, 21 min"
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 80
    assert len([line for line in lines if re.match("(GREEN|AMBER|RED)  ", line)]) >= 6


def test_order_is_that_in_which_a_crew_asks(data):
    text = summary_text(data, "metric")
    places = [
        text.index(word) for word in ("hottest oil:", "lowest feed:", "oil in the tank:", "gas at the pump:", "cap:")
    ]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("taken", "words"),
    [
        (
            0.34,
            "Air space hardly taken up (34 %): fill and cap set the pressure.",
        ),
        (0.36, "Air space half taken up"),
        (0.74, "Air space half taken up"),
        (0.76, "Air space taken up (76 %): heat and the air shut in at the start set the pressure"),
    ],
)
def test_regime_of_the_air_space_is_named(data, taken, words):
    assert words in said(data, **SHUT, air_taken_up=taken, air_missing_share=0.099)


def test_air_space_that_the_cap_has_emptied_is_in_no_regime_of_fill_and_heat(data):
    text = said(data, **SHUT, air_taken_up=0.9, air_missing_share=0.41)
    assert "Air space short of air: 41 % of all air in tank and oil went out at the cap" in text
    assert "Air space taken up" not in text
    lifted = simulate(truck({**BUSY, "start.temperature": "20 degC", "cap.relief_pressure": "2 psi"}))
    held = lifted.headspace_air_mass + lifted.dissolved_air_mass + lifted.free_air_mass + lifted.trapped_air_mass
    # rounding of sums: what is missing in the tank went through its cap
    assert summarise(lifted)["air_missing_share"] == pytest.approx(1.0 - float(held[-1] / held[0]), rel=1e-9)
    assert "Air space short of air" in said(lifted)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"air_missing_share": -0.2}, "Air drawn in or put in: 20 % more than tank and oil had; it adds"),
        ({"air_excess_pressure": 1.1e4}, "The oil is more than saturated with air"),
        ({"air_dissolved_share": 0.7}, "Air out of the oil: 30 % of what it held came out on its way to the pump"),
        ({"air_vented": 1e-3, "air_missing_share": 0.3}, "The tank does not hold: hot it loses air"),
        ({"faults": [{"name": "seal leak", "begin": 60.0, "end": 90.0, "lap": 1}]}, "The tank does not hold"),
    ],
)
def test_heat_and_the_air_of_the_start_are_not_named_where_something_else_sets_the_pressure(data, changes, words):
    text = said(data, **{**SHUT, "air_taken_up": 1.0, **changes})
    assert words in text
    assert "shut in at the start" not in text
    assert "in a vacuum" not in text


def test_full_tank_is_told_no_regime_and_a_tank_past_its_rating_no_price(data):
    text = said(data, **SHUT, air_taken_up=1.0, highest_oil_level=1.0, lowest_tank_margin=-1e6)
    assert "Leave it shut: past a rating anything can let go, and hot oil with it." in text
    assert "spends" not in text
    assert "Over a rating: figures after that mean nothing" in text
    assert "Air space taken up" not in text


def test_fault_has_a_line_with_its_time_and_its_lap(data):
    faults = [
        {"name": "relief stuck shut", "begin": 60.0, "end": None, "lap": 1},
        {"name": "blocked cooler", "begin": 65.0, "end": 3725.0, "lap": 2},
    ]
    lines = summary_text(data.assign_attrs(summary=json.dumps({**summarise(data), "faults": faults})), "us").split("\n")
    assert lines[2] == "fault: relief stuck shut at 0:01:00 (lap 1)"
    assert lines[3] == "fault: blocked cooler at 0:01:05 (lap 2) until 1:02:05"


def test_water_trapped_air_and_a_bare_return_are_named(data):
    assert "water vapour, up to 35 kPa; oil that stays milky has water" in said(data, highest_vapour_pressure=35e3)
    # the gas law: 1.204 g a litre at 20 degC and sea level
    trapped = said(data, trapped_air_freed=1.204e-3, trapped_air_left=0.602e-3)
    assert "Trapped air: 1 L came out of gear and hoses, 0.5 L is still in; top up after bleeding." in trapped
    assert "under the return port" in said(data, lowest_oil_level=0.29)
    for word in ("vapour", "Trapped", "return port"):
        assert word not in said(data)


def test_regime_of_a_vented_tank_and_of_an_open_one():
    assert "The tank breathes" in said(simulate(truck({"cap.kind": "vented"})))
    opened = simulate(truck({"event": [{"action": "cap off", "time": "5 min"}]}))
    assert "The cap is off at the end: the air space is at ambient" in said(opened)
    assert "warning: the cap is off at the end of the race" in said(opened)


def test_price_of_opening_is_the_pressure_of_the_tank_at_the_worst_place(data):
    pit = {"name": "pit", "time": 600.0, "hottest_oil": 373.15, "gauge_pressure": 68947.57}
    text = said(data, "us", stops=[pit])
    assert "Leave it shut: at the stop 'pit' the oil is at 212 degF under 10 psi" in text
    hotter = {"time": 1260.0, "hottest_oil": 393.15, "gauge_pressure": 6e4}
    assert "at the stop 'pit' the oil is at 212 degF" in said(data, "us", stops=[pit], finish=hotter)


def test_gauge_at_zero_over_hot_oil_is_no_invitation(data):
    hot = {"time": 1260.0, "hottest_oil": 484.15, "gauge_pressure": 499.0}
    text = said(data, stops=[], finish=hot)
    assert "Leave it shut: at the finish the oil is at 211 degC with 0.5 kPa gauge; a gauge at zero" in text
    assert "spends all of it" in said(data, stops=[], finish={**hot, "gauge_pressure": 501.0})
    cold = said(data, stops=[], finish={"time": 1260.0, "hottest_oil": 313.15, "gauge_pressure": -900.0})
    open_at_the_end = said(data, stops=[], cap_off_at_end=True)
    for silent in (cold, open_at_the_end):
        assert "Leave it shut" not in silent
    for word in ("safe", "may be opened", "can be opened", "cold enough"):
        assert word not in text + cold + open_at_the_end


def test_lowest_feed_is_split_into_tank_and_line(data):
    figures = {"lowest_feed_time": 3725.0, "headspace_gauge_pressure_at_lowest_feed": 1e4}
    text = said(data, **figures, lowest_feed_gauge_pressure=-5e3)
    assert "Lowest feed at 1:02:05: the tank had 10 kPa gauge, line, speed and height took 15 kPa" in text
    assert "the height of the tank added 5 kPa" in said(data, **figures, lowest_feed_gauge_pressure=1.5e4)
    starved = said(data, **figures, lowest_feed_gauge_pressure=-5e6, time_starved=2.0)
    assert "the feed line cannot bring the flow for 2 s" in starved
    assert "Lowest feed" not in starved.replace("lowest feed", "")


def test_cap_taken_off_hot_without_pressure_spends_none(data):
    opening = {"time": 1.0, "hottest_oil": 363.15, "gauge_pressure": -3e3, "refitted": None}
    text = said(data, cap_openings=[opening])
    assert "that burns" in text
    assert "the pressure is spent" not in text


def test_no_line_breaks_between_a_number_and_its_per_cent_sign(data):
    assert not [line for line in summary_text(data, "us").split("\n") if line.startswith("%")]


OPENED = {"time": 1.0, "hottest_oil": 313.15, "gauge_pressure": 5e4, "refitted": 3725.0, "regained_by": 4325.0}


@pytest.mark.parametrize(
    ("after", "words"),
    [
        (
            (9e3, 8e3, 4e3),
            "Opening spent 50 kPa; refitted at 1:02:05, the tank had 9 kPa by 1:12:05. Its own oil gives back up to "
            "4 kPa in time, of the 8 kPa that it had drunk. What it holds later is heat, or air that came in.",
        ),
        (
            (400.0, 3.0, 1.0),
            "the tank had no pressure by 1:12:05. Its own oil has nothing to give back.",
        ),
        (
            (9e3, None, None),
            "the tank had 9 kPa by 1:12:05. Its own oil has nothing to give back.",
        ),
    ],
)
def test_refitted_tank_says_what_came_back_and_from_where(data, after, words):
    names = ("regained_gauge_pressure", "gauge_pressure_in_oil", "gauge_pressure_from_oil")
    opening = {**OPENED, **dict(zip(names, after, strict=True))}
    lesser = {**opening, "gauge_pressure": 4e4, "refitted": 60.0}
    assert words in said(data, cap_openings=[lesser, opening])
    assert "refitted" not in said(data, cap_openings=[{**opening, "gauge_pressure": 400.0}])
    assert "refitted" not in said(data, cap_openings=[{**opening, "refitted": None}])


def test_what_is_weak_is_said_in_a_crews_words(data):
    weak = "Gas numbers are good to a factor of a few: read set-ups against each other."
    assert weak in said(data)
    assert "growls or whines" in said(data, cavitation_exposure=1e3)
    assert "growls or whines" not in said(data, cavitation_exposure=1e2)
    assert "growls or whines" not in said(data, cavitation_exposure=1.0, highest_pump_void_fraction=0.01)
    assert weak not in said(data, lowest_feed_gauge_pressure=None)
    for word in ("void", "supersaturat", "headspace"):
        assert word not in said(data, cavitation_exposure=1e3)


def test_bracket_stands_under_the_lights_and_the_screen_stays_one_screen(data):
    other = {**summarise(data), "cavitation_exposure": 1e3}
    bracket = {"frozen": summarise(data), "kinetic": summarise(data), "equilibrium": other}
    lines = summary_text(data, "us", bracket).split("\n")
    (row,) = [place for place, line in enumerate(lines) if line.startswith("air in and out of oil")]
    assert lines[row - 1].startswith("       amber from 90 %")
    assert lines[row + 1].startswith("gas at the pump")
    assert len(lines) <= 40
    assert max(len(line) for line in lines[row:]) <= 66
    assert "really gets this model cannot tell" in " ".join(lines)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize(
    "changes", [BUSY, {"duty.segment.0.duration": "12 h 20 min", "duty.sample_interval": "60 s"}], ids=["short", "long"]
)
def test_numbers_have_three_significant_digits_at_most(changes, units):
    text = re.sub(r"\d:\d\d:\d\d", "", summary_text(simulate(truck(changes)), units))
    for number in re.findall(r"\d[\d.]*", text):
        assert len(number.rstrip(".").replace(".", "").lstrip("0")) <= 3, text


def test_normal_race_has_no_warning_and_a_missing_title_a_word(data):
    assert "warning" not in said(data)
    assert summary_text(data.assign_attrs(title=""), "us").startswith("untitled scenario\n")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"left_oil_range": True}, "warning: oil went over 200 degC"),
        ({"at_vapour_pressure": True}, "warning: the air space held hardly anything but vapour"),
        ({"time_starved": 1.0}, "warning: the feed line cannot bring the flow for 1 s: oil too thick"),
        ({"time_chambers_unfilled": 1.0}, "warning: the pump's own port cannot fill it for 1 s"),
        (
            {"time_outlet_uncovered": 14.0, "first_uncovered_time": 1733.0, "first_uncovered_lap": 1},
            "warning: the outlet of the tank sucks air, first at 0:28:53 (lap 1), and has it in the line for 14 s",
        ),
        (
            {"highest_steering_flow": 38.0 / 6e4, "lowest_steering_flow_with_gas": 6.2 / 6e4},
            "warning: with gas in the pump the flow to the steering falls to 6.2 L/min (best 38 L/min): the steering",
        ),
        ({"highest_oil_level": 1.0}, "warning: the tank is full to the last drop"),
        (
            {"lowest_seal_margin": -1e4},
            "warning: the shaft seal is 10 kPa over its rating: it may burst",
        ),
        ({"lowest_tank_margin": -1e4}, "warning: the tank is 10 kPa over its rating"),
        (
            {"cap_openings": [{"time": 1.0, "hottest_oil": 373.15, "gauge_pressure": 5e4, "refitted": None}]},
            "warning: the cap is taken off with oil at 100 degC and 50 kPa gauge: that burns",
        ),
    ],
)
def test_what_goes_beyond_the_limits_is_warned_of(data, changes, words):
    assert words in said(data, **changes)


def test_hot_oil_of_a_race_reaches_the_screen():
    changes = {"start.temperature": "120 degC", "reservoir.fill": 0.7, "duty.segment.0.steering_load": "110 bar"}
    hot = simulate(truck({**changes, "cooler.blockage": 0.95, "cooler.preheat": "40 K"}))
    assert float(hot.oil_temperature.max()) > 473.15
    assert "warning: oil went over 200 degC" in said(hot)


def test_starving_line_of_a_race_reaches_the_screen():
    cold = {"start.temperature": "-30 degC", "fluid.preset": "ISO VG 68", "feed_line.bore": "10 mm"}
    assert "cannot bring the flow" in said(simulate(truck(cold)))
