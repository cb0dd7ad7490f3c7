import json

import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.results.summary import summarise, summary_json

BUSY = {
    "cap.relief_pressure": "3 psi",
    "start.temperature": "40 degC",
    "reservoir.fill": 0.85,
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "1 min"}],
}
STANDING = {"duty.segment.0.engine_speed": "0 rpm", "duty.segment.0.vehicle_speed": "0 km/h"}
PUBLISHED = [
    "peak_oil_temperature",
    "lowest_feed_gauge_pressure",
    "lowest_vapour_margin",
    "lowest_air_margin",
    "lowest_rating_margin",
    "time_below_rating",
    "highest_headspace_gauge_pressure",
    "highest_oil_level",
    "relief_openings",
    "air_vented",
    "oil_lost",
    "time_starved",
    "highest_inlet_void_fraction",
    "highest_pump_void_fraction",
    "cavitation_exposure",
    "shaft_energy",
    "status",
]


@pytest.fixture(scope="module")
def data():
    return simulate(truck(BUSY))


def test_figures_are_those_of_the_dataset_where_every_step_has_a_row(data):
    figures = summarise(data)
    assert [name for name in PUBLISHED if name not in figures] == []
    turning = (data.pump_speed.values > 0.0) & (data.time.values >= 5.0)
    feed = data.feed_gauge_pressure.values
    lowest = np.flatnonzero(turning)[np.argmin(feed[turning])]
    relief = (data.event_name.values == "cap relief") & (data.event_direction.values == "open")
    peaks = {str(node): data.oil_temperature.values[i].max() for i, node in enumerate(data.node.values)}
    # the error control takes a few steps shorter than a row: their ends may stand out by a part of its tolerance
    assert figures["peak_oil_temperature"] == pytest.approx(peaks, abs=0.1)
    assert figures["lowest_feed_gauge_pressure"] == pytest.approx(feed[lowest], abs=20.0)
    assert figures["lowest_feed_time"] == pytest.approx(data.time.values[lowest], abs=1.0)
    assert figures["lowest_feed_lap"] == data.lap.values[lowest]
    there = data.headspace_gauge_pressure.values[lowest]
    assert figures["headspace_gauge_pressure_at_lowest_feed"] == pytest.approx(there, abs=20.0)
    hottest = np.argmax(data.oil_temperature.values.max(axis=0))
    assert figures["peak_oil_time"] == pytest.approx(data.time.values[hottest], abs=1.0)
    assert figures["peak_oil_lap"] == data.lap.values[hottest]
    for name in ("vapour_margin", "air_margin", "rating_margin"):
        assert figures[f"lowest_{name}"] == pytest.approx(np.min(data[name].values[turning]), abs=20.0)
    for name in ("seal_margin", "tank_margin"):
        assert figures[f"lowest_{name}"] == pytest.approx(data[name].values.min(), abs=20.0)
    assert figures["highest_headspace_gauge_pressure"] == pytest.approx(
        data.headspace_gauge_pressure.values.max(), abs=20.0
    )
    assert figures["lowest_oil_level"] == pytest.approx(data.oil_level.values.min(), abs=1e-5)
    assert figures["highest_steering_flow"] == pytest.approx(data.steering_flow.values[turning].max(), rel=1e-3)
    assert figures["highest_oil_level"] == pytest.approx(data.oil_level.values.max(), abs=1e-5)
    for name in ("inlet_void_fraction", "pump_void_fraction"):
        # the rows of a second: a step that ends between them stands out by a part of the second's change
        assert figures[f"highest_{name}"] == pytest.approx(np.max(data[name].values[turning]), rel=0.05)
    glass = data.sight_glass_transmittance.values[turning]
    assert figures["lowest_sight_glass_transmittance"] == pytest.approx(glass.min(), rel=0.05)
    assert figures["lowest_sight_glass_transmittance"] <= glass.min()
    assert glass.min() < 1.0
    assert figures["cavitation_exposure"] == data.cavitation_exposure.values[-1] > 0.0
    assert figures["relief_openings"] == data.event_count.values[relief].sum() > 1
    assert figures["air_vented"] == data.air_vented.values[-1]
    assert figures["shaft_energy"] == data.shaft_work.values[-1]
    assert figures["time_turning"] == pytest.approx(data.time.values[-1] - 5.0, abs=1.0)
    assert (figures["laps"], figures["duration"]) == (2, data.time.values[-1])
    assert figures["finish"]["gauge_pressure"] == data.headspace_gauge_pressure.values[-1]


def test_stops_carry_the_heat_and_the_pressure_with_which_the_truck_comes_in(data):
    (stop,) = summarise(data)["stops"]
    row = data.sel(time=600.0)
    assert stop == {
        "name": "pit",
        "time": 600.0,
        "hottest_oil": float(row.oil_temperature.max()),
        "gauge_pressure": float(row.headspace_gauge_pressure),
    }


def test_pump_that_never_turns_has_no_inlet_figures():
    still = simulate(truck(STANDING))
    figures = json.loads(summary_json(still, {}))
    assert [name for name, value in figures.items() if value is None] == [
        "lowest_feed_gauge_pressure",
        "lowest_feed_time",
        "headspace_gauge_pressure_at_lowest_feed",
        "lowest_vapour_margin",
        "lowest_air_margin",
        "lowest_rating_margin",
        "lowest_rating_time",
        "first_uncovered_time",
        "highest_inlet_void_fraction",
        "highest_pump_void_fraction",
        "highest_pump_void_time",
        "lowest_steering_flow_with_gas",
        "lowest_sight_glass_transmittance",
        "lowest_feed_lap",
        "highest_pump_void_lap",
        "first_uncovered_lap",
    ]
    assert (figures["time_turning"], figures["cavitation_exposure"]) == (0.0, 0.0)


def test_json_is_the_summary_and_says_of_which_race(data):
    bracket = {"kinetic": summarise(data), "frozen": {**summarise(data), "status": "it failed"}}
    found = json.loads(summary_json(data, bracket))
    compared = found.pop("air_models")
    assert compared["cavitation_exposure"] == {"kinetic": summarise(data)["cavitation_exposure"]}  # a failed one is out
    assert compared["finish_gauge_pressure"] == {"kinetic": summarise(data)["finish"]["gauge_pressure"]}
    assert {name: found.pop(name) for name in ("title", "format_version", "ullage_version", "scenario_hash")} == {
        name: data.attrs[name] for name in ("title", "format_version", "ullage_version", "scenario_hash")
    }
    assert found == {"outcome": "done", **summarise(data)}


@pytest.mark.parametrize("interval", ["10 s", "1 min", "5 min"])
def test_thinned_rows_do_not_touch_the_summary(data, interval):
    thinned = simulate(truck({**BUSY, "output.interval": interval}))
    assert thinned.sizes["time"] < data.sizes["time"] / 5
    rounding = ("oil_balance", "air_balance", "energy_balance")
    figures, full = summarise(thinned), summarise(data)
    assert {name: figures[name] for name in figures if name not in rounding} == {
        name: full[name] for name in full if name not in rounding
    }
