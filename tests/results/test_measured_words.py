import json

import numpy as np
import pytest

from measured_support import PSI, with_log
from support import truck
from ullage.api import simulate
from ullage.results.screen import summary_text
from ullage.results.summary import summarise

LEVEL = {"rows": 600, "mean": 0.8 * PSI, "root_mean_square": 1.4 * PSI, "largest": -3.9 * PSI}
MISFIT = {**LEVEL, "largest_time": 453.0, "largest_lap": 2}
NO_ROW = dict.fromkeys(MISFIT) | {"rows": 0}


@pytest.fixture(scope="module")
def data():
    return simulate(truck({"duty.laps": 2}))


def said(data, misfit, units="us", **changes):
    """Return the screen of a race with a made-up misfit, as one line of text."""
    changed = data.assign_attrs(summary=json.dumps({**summarise(data), "misfit": misfit, **changes}))
    return " ".join(summary_text(changed, units).split())


def test_misfit_is_told_with_its_sign_its_worst_and_when_that_was(data):
    text = said(data, {"feed_gauge_pressure": MISFIT})
    off = "0.8 psi high on average, 1.4 psi off typically, at worst 3.9 psi low at 0:07:33 (lap 2)"
    assert f"Measured feed pressure (600 rows): the model reads {off}." in text
    assert "5.5 kPa high on average" in said(data, {"feed_gauge_pressure": MISFIT}, "metric")


def test_oil_is_told_by_node_and_its_difference_has_no_zero_of_a_scale(data):
    kelvin = {**MISFIT, "mean": -5.0, "root_mean_square": 6.0, "largest": -10.0}
    text = said(data, {"oil_temperature": {"steering_gear": kelvin}})
    assert "Measured oil, steering gear (600 rows): the model reads 9 degF low on average" in text
    assert "at worst 18 degF low" in text
    assert "5 K low on average" in said(data, {"oil_temperature": {"steering_gear": kelvin}}, "metric")


def test_sensor_without_a_row_is_told_and_not_left_out(data):
    text = said(data, {"oil_temperature": {"pump": NO_ROW}, "supply_pressure": NO_ROW})
    assert text.count("the log has nothing in what was simulated") == 2


def test_nothing_is_said_of_sensors_where_there_are_none(data):
    assert "easured" not in said(data, {})


def test_no_verdict_is_given_on_a_fit(data):
    perfect = {**MISFIT, "mean": 0.0, "root_mean_square": 0.0, "largest": 0.0}
    text = said(data, {"feed_gauge_pressure": perfect}).split("Measured")[1].lower()
    assert "the same on average" in text
    assert not [word for word in ("good", "bad", "fits", "accurate", "trust", "valid") if word in text]


@pytest.mark.parametrize("left", [0.7, -0.7, 0.9])
def test_feed_further_off_than_what_the_pump_has_left_is_warned_of(data, left):
    text = said(data, {"feed_gauge_pressure": MISFIT}, lowest_rating_margin=left * PSI)
    assert ("warning: the model's feed pressure is 0.8 psi off" in text) == (abs(left) < 0.8)


@pytest.mark.parametrize(
    ("peak", "warned"), [(389.0, True), (398.0, True), (384.0, False), (411.0, True), (416.0, False)]
)
def test_hottest_oil_further_off_than_its_light_is_from_turning_is_warned_of(data, peak, warned):
    peaks = dict.fromkeys(summarise(data)["peak_oil_temperature"], 350.0) | {"pump": peak}
    misfit = {"oil_temperature": {"pump": {**MISFIT, "mean": -6.0}}}
    text = said(data, misfit, peak_oil_temperature=peaks)
    assert ("warning: the model's oil in the pump is 11 degF off" in text) == warned


def test_sensor_elsewhere_than_the_hottest_oil_turns_no_light(data):
    peaks = dict.fromkeys(summarise(data)["peak_oil_temperature"], 350.0) | {"pump": 393.0}
    text = said(data, {"oil_temperature": {"reservoir": {**MISFIT, "mean": -6.0}}}, peak_oil_temperature=peaks)
    assert "the model's oil" not in text


def test_screen_of_a_race_beside_its_log_stays_narrow(tmp_path):
    time = np.arange(0.0, 1201.0)
    columns = {"t": time, "p": np.full(len(time), 3.0)}
    scenario = with_log(tmp_path, columns, {"duty.laps": 2}, feed_gauge_pressure=("p", "psig"))
    lines = summary_text(simulate(scenario), "us").split("\n")
    assert any(line.startswith("Measured feed pressure (1201 rows)") for line in lines)
    assert max(map(len, lines)) <= 80
