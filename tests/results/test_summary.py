import json
import re
import tracemalloc

import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.results.summary import summarise, summary_json, summary_text

BUSY = {
    "cap.relief_pressure": "3 psi",
    "start.temperature": "40 degC",
    "reservoir.fill": 0.85,
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "1 min"}],
}
STANDING = {"duty.segment.0.engine_speed": "0 rpm", "duty.segment.0.vehicle_speed": "0 km/h"}


@pytest.fixture(scope="module")
def data():
    return simulate(truck(BUSY))


def test_figures_are_those_of_the_dataset(data):
    figures = summarise(data)
    turning = (data.pump_speed.values > 0.0) & (data.time.values >= 5.0)
    feed = data.feed_gauge_pressure.values
    lowest = np.flatnonzero(turning)[np.argmin(feed[turning])]
    relief = (data.event_name.values == "cap relief") & (data.event_direction.values == "open")
    assert figures == {
        "peak_oil_temperature": {
            str(node): data.oil_temperature.values[place].max() for place, node in enumerate(data.node.values)
        },
        "lowest_feed_gauge_pressure": feed[lowest],
        "lowest_feed_lap": data.lap.values[lowest],
        "highest_headspace_gauge_pressure": data.headspace_gauge_pressure.values.max(),
        "highest_oil_level": data.oil_level.values.max(),
        "relief_openings": data.event_count.values[relief].sum(),
        "left_oil_range": False,
        "at_vapour_pressure": False,
        "feed_line_starves": False,
        "lowest_seal_margin": data.seal_margin.values.min(),
        "lowest_tank_margin": data.tank_margin.values.min(),
        "cap_openings": [],
        "cap_off_at_end": False,
        "air_vented": data.air_vented.values[-1],
        "oil_lost": data.oil_lost.values[-1],
        "shaft_energy": data.shaft_work.values[-1],
        **{name: data.attrs[name] for name in ("oil_balance", "air_balance", "energy_balance", "status")},
    }
    assert figures["relief_openings"] > 1


def test_feed_figures_leave_out_the_first_seconds_and_the_standing_pump(data):
    changed = data.copy(deep=True)
    changed.feed_gauge_pressure[2] = -9e5
    assert summarise(changed) == summarise(data)
    changed.feed_gauge_pressure[300] = -9e5
    changed.pump_speed[300] = 0.0
    assert summarise(changed) == summarise(data)
    changed.pump_speed[300] = 100.0
    assert summarise(changed)["lowest_feed_gauge_pressure"] == -9e5
    assert summarise(changed)["lowest_feed_lap"] == 1


def test_pump_that_never_turns_has_no_feed_figure():
    still = simulate(truck(STANDING))
    assert summarise(still)["lowest_feed_gauge_pressure"] is None
    assert summarise(still)["lowest_feed_lap"] is None
    assert "pump feed" not in summary_text(still, "metric")
    assert json.loads(summary_json(still))["lowest_feed_lap"] is None


def test_summary_of_a_race_with_many_events_takes_little_memory(data):
    many = data.isel(event=np.resize(np.arange(data.sizes["event"]), 2000))
    tracemalloc.start()
    try:
        summarise(many)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    # A few copies of the rows are in order; events spread over all rows would be some hundred times as much.
    assert peak < 10 * many.nbytes


def test_json_is_the_summary(data):
    assert json.loads(summary_json(data)) == summarise(data)
    with pytest.raises(ValueError, match="JSON"):
        summary_json(data.assign_attrs(oil_balance=np.nan))


def test_text_says_the_figures_in_both_unit_systems(data):
    figures = summarise(data)
    node, peak = max(figures["peak_oil_temperature"].items(), key=lambda item: item[1])
    metric, us = summary_text(data, "metric"), summary_text(data, "us")
    over = figures["highest_headspace_gauge_pressure"]
    assert metric.split("\n")[0] == us.split("\n")[0] == "test truck (invented data)"
    for text, distance, temperature, pressure in (
        (metric, "20 km", f"{peak - 273.15:.3g} degC", f"{over / 1e3:.3g} kPa"),
        (
            us,
            "12.4 mile",
            f"{peak * 1.8 - 459.67:.3g} degF",
            f"{over / 6894.757:.3g} psi",
        ),
    ):
        assert f"length                {distance}, 2 laps, 0.35 h" in text
        assert f"{temperature} in the {node.replace('_', ' ')}" in text
        assert f"{pressure} gauge" in text
        assert re.search(r"pump feed, lowest     (-?[\d.]+ (kPa|psi) gauge|[\d.]+ inHg vac), lap [12]\n", text)
        assert f"cap relief openings   {figures['relief_openings']}" in text
        assert "energy " + format(figures["energy_balance"], ".1e") in text


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize(
    "changes", [BUSY, {"duty.segment.0.duration": "12 h 20 min", "duty.sample_interval": "60 s"}], ids=["short", "long"]
)
def test_text_has_three_significant_digits_at_most(changes, units):
    text = summary_text(simulate(truck(changes)), units)
    for number in re.findall(r"\d[\d.]*", "\n".join(line for line in text.split("\n") if "openings" not in line)):
        assert len(number.replace(".", "").lstrip("0")) <= 3, text


def test_hot_oil_is_warned_of():
    changes = {"start.temperature": "120 degC", "reservoir.fill": 0.7, "duty.segment.0.steering_load": "110 bar"}
    hot = simulate(truck({**changes, "cooler.blockage": 0.95, "cooler.preheat": "40 K"}))
    assert float(hot.oil_temperature.max()) > 473.15
    assert summarise(hot)["left_oil_range"]
    assert "warning: oil went over 200 degC" in summary_text(hot, "us")


def test_normal_race_has_no_warning_and_a_missing_title_a_word(data):
    assert "warning" not in summary_text(data, "us")
    assert summary_text(data.assign_attrs(title=""), "us").startswith("race\n")


@pytest.mark.parametrize("interval", ["10 s", "1 min", "5 min"])
def test_thinned_rows_do_not_touch_the_summary(data, interval):
    thinned = simulate(truck({**BUSY, "output.interval": interval}))
    assert thinned.sizes["time"] < data.sizes["time"] / 5
    rounding = ("oil_balance", "air_balance", "energy_balance")
    figures, full = summarise(thinned), summarise(data)
    assert {name: figures[name] for name in figures if name not in rounding} == {
        name: full[name] for name in full if name not in rounding
    }


def test_a_hot_opening_and_a_cap_left_off_are_named_with_their_cost():
    hot = simulate(truck({"start.temperature": "90 degC", "event": [{"action": "cap off", "time": "5 min"}]}))
    text = summary_text(hot, "us")
    opening = summarise(hot)["cap_openings"][0]
    assert opening["time"] == 300.0
    assert opening["hottest_oil"] > 350.0
    assert "taken off with oil at" in text
    assert "that burns" in text
    assert "the cap is off at the end of the race" in text
    assert "taken off" not in summary_text(simulate(truck()), "us")


def test_a_feed_line_that_cannot_bring_the_flow_is_named():
    cold = {"start.temperature": "-30 degC", "fluid.preset": "ISO VG 68", "feed_line.bore": "10 mm"}
    assert "cannot bring the flow" in summary_text(simulate(truck(cold)), "metric")


def test_vacuum_is_shown_in_inches_of_mercury_where_psi_are_shown(data):
    changed = data.copy(deep=True)
    changed.feed_gauge_pressure[100] = -16931.945
    assert "pump feed, lowest     5 inHg vac, lap 1" in summary_text(changed, "us")
