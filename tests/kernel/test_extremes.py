"""Extremes over step ends against hand-made rows."""

import numpy as np
import pytest

from support import bench, channel_table, start_at, truck
from ullage.api import simulate
from ullage.kernel.extremes import clear_extremes, observe
from ullage.kernel.outputs import Row
from ullage.kernel.state import State, empty_record
from ullage.results.summary import summarise


def observed(*rows):
    """Return a state that has seen rows of one second each."""
    state = empty_record(State)
    clear_extremes(state)
    for values in rows:
        row = empty_record(Row)
        defaults = {"time": 100.0, "pump_speed": 300.0, "feed_pressure": 1e5, "vapour_margin": 1e5, "air_margin": 1e4}
        for name, value in {**defaults, "rating_margin": 1e4, **values}.items():
            setattr(row, name, value)
        observe(state, row, 0.0, 1.0)
    return state


def test_highest_and_lowest_are_kept():
    state = observed(
        {
            "oil_temperature": np.array([300.0, 390.0, 310.0, 305.0]),
            "oil_level": 0.8,
            "vapour_pressure": 40.0,
            "feed_gauge_pressure": 5e3,
        },
        {"oil_temperature": np.array([320.0, 380.0, 310.0, 304.0]), "oil_level": 0.7, "feed_gauge_pressure": -2e3},
        {"oil_level": 0.75, "headspace_gauge_pressure": 6e4, "seal_margin": -5.0, "tank_margin": 7.0, "time": 130.0},
    )
    assert list(state.peak_oil_temperature) == [320.0, 390.0, 310.0, 305.0]
    assert (state.lowest_oil_level, state.highest_vapour_pressure) == (0.7, 40.0)
    assert (state.highest_oil_level, state.highest_headspace_gauge_pressure) == (0.8, 6e4)
    assert (state.lowest_feed_gauge_pressure, state.lowest_feed_time) == (-2e3, 100.0)
    assert (state.lowest_seal_margin, state.lowest_tank_margin) == (-5.0, 0.0)


def test_hottest_oil_has_the_time_of_the_hottest_node_and_the_first_if_there_are_several():
    nodes = ([300.0, 350.0, 310.0, 305.0], [345.0, 349.0, 310.0, 305.0], [300.0, 310.0, 360.0, 305.0], [360.0] * 4)
    rows = [{"oil_temperature": np.array(values), "time": 10.0 * k} for k, values in enumerate(nodes)]
    assert observed(*rows).peak_oil_time == 20.0


def test_cloudiest_sight_glass_and_the_pressure_at_the_lowest_feed_are_kept():
    state = observed(
        {"sight_glass_transmittance": 0.9, "feed_gauge_pressure": 5e3, "headspace_gauge_pressure": 1e4},
        {"sight_glass_transmittance": 0.4, "feed_gauge_pressure": -6e3, "headspace_gauge_pressure": 2e4},
        {"sight_glass_transmittance": 0.6, "feed_gauge_pressure": -1e3, "headspace_gauge_pressure": 3e4},
        {"sight_glass_transmittance": 0.1, "feed_gauge_pressure": -9e3, "pump_speed": 0.0},
    )
    assert state.lowest_sight_glass_transmittance == 0.4
    assert state.headspace_gauge_pressure_at_lowest_feed == 2e4


@pytest.mark.parametrize("values", [{"pump_speed": 0.0}, {"time": 4.9}], ids=["standing pump", "first five seconds"])
def test_inlet_figures_leave_out_the_standing_pump_and_the_first_seconds(values):
    state = observed({"feed_gauge_pressure": -9e4, "rating_margin": -1.0, "air_margin": -1.0, **values})
    assert state.lowest_feed_gauge_pressure == np.inf
    assert np.isnan([state.lowest_feed_time, state.lowest_rating_time]).all()
    assert np.isnan(state.headspace_gauge_pressure_at_lowest_feed)
    assert state.lowest_sight_glass_transmittance == np.inf
    assert (state.time_turning, state.time_below_rating, state.time_below_bubble_point) == (0.0, 0.0, 0.0)


def test_times_count_whole_steps_by_their_end():
    state = observed(
        {},
        {"rating_margin": -1.0},
        {"rating_margin": -1.0, "air_margin": -1.0},
        {"starved": 1, "feed_pressure": 5000.0},
        {"starved": 1},
        {"starved": 2},
        {"starved": 0},
    )
    assert state.time_turning == 7.0
    assert state.time_below_rating == 2.0
    assert state.time_below_bubble_point == 1.0
    assert state.time_starved == 2.0
    assert state.time_chambers_unfilled == 1.0


@pytest.mark.parametrize(("void", "weight"), [(0.0, 0.0), (0.01, 0.2), (0.05, 1.0), (0.4, 1.0)])
def test_exposure_to_a_constant_void_is_its_time_in_proportion_up_to_five_per_cent(void, weight):
    rows = [{"pump_void_fraction": void, "inlet_void_fraction": 0.5 * void, "time": 10.0 + k} for k in range(20)]
    state = observed(*rows)
    assert state.cavitation_exposure == pytest.approx(20.0 * weight, rel=1e-12)
    assert (state.highest_pump_void_fraction, state.highest_inlet_void_fraction) == (void, 0.5 * void)


def test_exposure_stands_in_the_row_that_ends_the_step_and_counts_while_the_pump_turns():
    state, row = empty_record(State), empty_record(Row)
    clear_extremes(state)
    row.time, row.pump_speed, row.pump_void_fraction = 50.0, 300.0, 0.02
    observe(state, row, 0.0, 3.0)
    assert row.cavitation_exposure == state.cavitation_exposure == pytest.approx(1.2, rel=1e-12)
    row.pump_speed, row.pump_void_fraction = 0.0, np.nan
    observe(state, row, 0.0, 3.0)
    assert state.cavitation_exposure == pytest.approx(1.2, rel=1e-12)


def test_margin_that_is_unknown_changes_nothing():
    state = observed({"rating_margin": np.nan, "air_margin": np.nan, "vapour_margin": np.nan, "pump_speed": 0.0})
    assert state.lowest_rating_margin == state.lowest_air_margin == state.lowest_vapour_margin == np.inf


def test_extremes_between_two_rows_of_results_are_seen():
    time = np.array([0.0, 600.0])
    b = bench()
    start_at(b.state, b.parameters, 300.0, 101325.0)
    channels = channel_table(time, engine_speed=[50.0, 700.0], steering_load=100e5)
    out, _, status = b.run(time, channels)
    assert status == 0
    # the pump heats quickly and the error control needs many steps: the extremes have seen them, the rows have not
    assert b.state.steps > 20
    assert b.state.time_turning == pytest.approx(595.0, abs=30.0)  # the first step after 5 s counts whole
    assert b.state.peak_oil_temperature[1] >= out[1].oil_temperature[1]


def test_share_of_air_taken_up_is_one_less_the_exponential_of_time_over_the_time_constant():
    # a big air space keeps its pressure while the oil drinks; no bubbles and no pump help
    calm = {
        "air.rough_ground_factor": 1,
        "reservoir.volume": "40 L",
        "reservoir.fill": 0.3,
        "return_line.port_level": 0.0,
        "start.headspace_pressure": "60 kPag",
        "duty.segment": [{"duration": "2 h", "vehicle_speed": "0 km/h", "engine_speed": "0 rpm"}],
        "air.rest_factor": 1,
        "duty.sample_interval": "60 s",
    }
    data = simulate(truck(calm))
    oil_volume = float(data.oil_mass[0]) / (870.0 * 0.997)
    # Temperature moves a little with the bay, and the air space gives what the oil takes: one part in twenty.
    expected = 1.0 - np.exp(-2e-5 * 0.021 / oil_volume * 7200.0)
    assert summarise(data)["air_taken_up"] == pytest.approx(expected, rel=0.05)


def test_air_in_the_feed_line_counts_as_an_uncovered_outlet_from_its_first_step():
    state = empty_record(State)
    clear_extremes(state)
    for time, share in ((50.0, 0.0), (51.0, 0.4), (52.0, 0.005), (53.0, 0.2)):
        row = empty_record(Row)
        row.time, row.pump_speed, state.line_gas = time, 300.0, share
        observe(state, row, 0.0, 1.0)
    assert (state.time_outlet_uncovered, state.first_uncovered_time) == (2.0, 51.0)


def test_flow_to_the_steering_is_told_where_there_is_much_gas():
    state = observed(
        {"steering_flow": 6e-4},
        {"steering_flow": 1e-4, "pump_void_fraction": 0.19},
        {"steering_flow": 2e-4, "pump_void_fraction": 0.21, "time": 120.0},
    )
    assert (state.highest_steering_flow, state.lowest_steering_flow_with_gas) == (6e-4, 2e-4)
    assert state.highest_pump_void_time == 120.0


def test_lowest_rating_margin_has_a_time_of_its_own():
    state = observed(
        {"rating_margin": 9e3, "feed_gauge_pressure": -5e3, "time": 50.0},
        {"rating_margin": 2e3, "feed_gauge_pressure": 7e3, "time": 60.0},
    )
    assert (state.lowest_feed_time, state.lowest_rating_time) == (50.0, 60.0)
    assert state.lowest_rating_margin == 2e3
