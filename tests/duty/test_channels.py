import dataclasses

import numpy as np
import pytest
from race_tables import BACK, COLD, DRIVE, at, channel, during, integral, recorded, table_of

from ullage.duty.events import CAP, ENGINE, FAN_OVERRIDE, RECHARGE, TOP_UP, TimedEvent
from ullage.duty.laps import NamedStop
from ullage.duty.profile import ACCELERATIONS, Stretch
from ullage.duty.race_inputs import AFTER_EVENT, Weather

EVENTS = (
    TimedEvent(100.0, ENGINE, "off"),
    TimedEvent(100.0, CAP, "off"),
    TimedEvent(150.5, TOP_UP, "start", 0.4, 280.0, 20.25),
    TimedEvent(200.0, CAP, "on"),
    TimedEvent(300.123, ENGINE, "on"),
)


@pytest.fixture(scope="module")
def table():
    pit = NamedStop("pit", 1, 60.0, False, 90.0, 3e5)
    return table_of(stops=[pit], laps=2, events=EVENTS)


def test_rows_are_sorted_and_a_jump_is_one_time_twice(table):
    step = np.diff(table.time)
    assert np.all(step >= 0.0)
    jumps = np.flatnonzero(step == 0.0)
    assert np.all(np.diff(jumps) > 1)
    change = np.abs(np.diff(table.channels, axis=0)).max(axis=1)
    assert np.all(change[jumps] > 0.0)
    assert set(table.time[jumps]) == {100.0, 150.5, 170.75, 200.0, 300.123, 600.0, 1000.0, 1060.0, 1660.0}


def test_values_between_jumps_are_continuous(table):
    # Away from jumps every channel runs on: within a sample of 1 s the steepest, ambient pressure, moves 45 Pa
    # (3.75 m down at 12 Pa/m).
    inside = np.diff(table.time) > 0.0
    assert np.max(np.abs(np.diff(channel(table, "ambient_pressure"))[inside])) < 46.0
    assert np.max(np.abs(np.diff(channel(table, "engine_speed"))[inside])) == 0.0


def test_output_rows_point_at_the_rows_of_the_output_times(table):
    kept = table.output_rows >= 0
    assert np.array_equal(table.output_rows[kept], np.arange(len(table.output_time)))
    assert np.array_equal(table.time[kept], table.output_time)
    assert np.all(np.diff(table.output_time) > 0.0)


def test_output_has_every_sample_and_a_row_just_after_each_event(table):
    expected = np.union1d(np.arange(2061.0), [event.time + AFTER_EVENT for event in EVENTS])
    assert table.output_time == pytest.approx(np.unique(expected.round(9)), abs=1e-9)  # rows are set to nanoseconds
    assert table.time[-1] == table.output_time[-1] == 2060.0


def test_engine_off_takes_speed_and_load_but_not_vehicle_speed(table):
    for time, running in ((99.5, True), (100.5, False), (300.1, False), (300.2, True), (1030.0, False), (1061.0, True)):
        assert (at(table, "engine_speed", time) > 0.0) == running
        assert (at(table, "steering_load", time) > 0.0) == running
    assert at(table, "vehicle_speed", 200.0) == 20.0
    assert at(table, "vehicle_speed", 1030.0) == 0.0
    assert at(table, "steering_position", 200.0) == 0.3


def test_engine_that_is_off_stays_off_through_a_stop_with_the_engine_on():
    pit = NamedStop("pit", 1, 60.0, True, 90.0, 3e5)
    off = table_of(stops=[pit], events=[TimedEvent(500.0, ENGINE, "off")])
    assert np.all(channel(off, "engine_speed")[off.time > 500.0] == 0.0)
    assert at(table_of(stops=[pit]), "engine_speed", 1030.0) == 90.0


def test_cap_channel_is_off_between_its_events(table):
    off = (table.time > 100.0) & (table.time < 200.0)
    assert np.all(channel(table, "cap_on")[off] == 0.0)
    assert np.all(channel(table, "cap_on")[(table.time < 100.0) | (table.time > 200.0)] == 1.0)


def test_last_of_two_switches_at_one_instant_counts():
    both = [TimedEvent(5.0, CAP, "off"), TimedEvent(5.0, CAP, "on")]
    assert np.all(channel(table_of(events=both), "cap_on") == 1.0)


def test_top_up_brings_its_mass_at_its_temperature(table):
    assert integral(table, "top_up_flow") == pytest.approx(0.4, rel=1e-10)  # times are set to nanoseconds of 20 s
    assert at(table, "top_up_temperature", 160.0) == 280.0
    assert at(table, "top_up_flow", 160.0) == pytest.approx(0.4 / 20.25, rel=1e-14)


def test_a_recharge_lasts_its_duration_at_its_pressure_and_ends_by_itself():
    found = table_of(events=[TimedEvent(100.5, RECHARGE, "start", duration=30.25, size=55e3)])
    assert [at(found, "recharge_pressure", time) for time in (100.0, 101.0, 130.0, 131.0)] == [0.0, 55e3, 55e3, 0.0]
    assert set(found.time[np.flatnonzero(np.diff(found.time) == 0.0)]) >= {100.5, 130.75}


def test_a_fan_is_forced_on_between_its_events_only():
    found = table_of(events=[TimedEvent(0.0, FAN_OVERRIDE, "on"), TimedEvent(50.0, FAN_OVERRIDE, "off")])
    forced = channel(found, "fan_forced")
    assert np.all(forced[found.time < 50.0] == 1.0)
    assert np.all(forced[found.time > 50.0] == 0.0)
    assert not channel(table_of(), "fan_forced").any()


def test_ambient_temperature_is_linear_between_weather_points_and_constant_outside():
    weather = Weather((100.25, 500.0, 700.0), (280.0, 300.0, 290.0), 0.0)
    found = table_of(weather=weather)
    expected = np.interp(found.time, weather.times, weather.temperatures)
    assert channel(found, "ambient_temperature") == pytest.approx(expected, rel=1e-14)  # rounding
    assert 100.25 in found.time


@pytest.mark.parametrize(
    ("elevation", "expected"),
    [(0.0, 101325.0), (500.0, 95461.0), (1000.0, 89876.0), (1500.0, 84560.0), (2000.0, 79501.0), (3000.0, 70121.0)],
)
def test_ambient_pressure_is_that_of_the_standard_atmosphere_and_the_offset(elevation, expected):
    level = Stretch(100.0, 10.0, 300.0, 0.0, 0.0, None)
    for offset in (0.0, -700.0):
        found = table_of([level], weather=Weather((0.0,), (293.15,), offset), start=elevation)
        # ISO 2533 by geometric elevation, printed to five digits.
        assert channel(found, "ambient_pressure") == pytest.approx(expected + offset, abs=2.0)


def test_coordinates_follow_the_race():
    pit = NamedStop("pit", 1, 60.0, True, 90.0, 0.0)
    found = table_of(stops=[pit], laps=2, start=300.0)
    time = found.output_time
    assert found.lap.tolist() == [1 if t <= 1060.0 else 2 for t in time]
    driven = [0.0, 12000.0, 16000.0, 16000.0, 28000.0, 32000.0]
    ends = [0.0, 600.0, 1000.0, 1060.0, 1660.0, 2060.0]
    assert found.distance == pytest.approx(np.interp(time, ends, driven), rel=1e-12, abs=1e-9)  # rounding
    heights = np.interp(time, ends, [300.0, 1500.0, 0.0, 0.0, 1500.0, 0.0])
    assert found.elevation == pytest.approx(heights, rel=1e-12, abs=1e-9)


def test_bay_settles_by_its_time_constant_and_more_when_standing():
    pit = NamedStop("pit", 1, 500.0, True, 90.0, 0.0)
    found = table_of(stops=[pit], interval=7.0)
    drive = found.time <= 1000.0
    over = channel(found, "bay_temperature") - channel(found, "ambient_temperature")
    # The lag is exact over each interval; what is left is rounding of temperatures near 300 K.
    assert over[drive] == pytest.approx(20.0 * (1.0 - np.exp(-found.time[drive] / 180.0)), abs=1e-10)
    at_stop = 20.0 * (1.0 - np.exp(-1000.0 / 180.0))
    assert over[~drive] == pytest.approx(
        30.0 - (30.0 - at_stop) * np.exp(-(found.time[~drive] - 1000.0) / 180.0), abs=1e-10
    )


def test_truck_that_hardly_moves_stands_for_the_bay():
    # below a walking pace no air is driven through the bay; both sides of the threshold of 0.3 m/s
    for speed, rise in ((0.0, 30.0), (0.2, 30.0), (0.5, 20.0)):
        found = table_of([Stretch(7200.0, speed, 90.0, 0.0, 0.0, None)])
        over = channel(found, "bay_temperature") - channel(found, "ambient_temperature")
        assert over[-1] == pytest.approx(rise, abs=1e-9)  # 40 time constants


def test_block_warms_with_the_engine_and_cools_without_it():
    found = table_of(block=COLD, events=[TimedEvent(600.0, ENGINE, "off")], interval=7.0)
    on = found.time <= 600.0
    block = channel(found, "block_temperature")
    assert block[on] == pytest.approx(363.15 - 70.0 * np.exp(-found.time[on] / 360.0), abs=1e-10)  # rounding at 300 K
    warm = 363.15 - 70.0 * np.exp(-600.0 / 360.0)
    cooled = 293.15 + (warm - 293.15) * np.exp(-(found.time[~on] - 600.0) / 5400.0)
    assert block[~on] == pytest.approx(cooled, abs=1e-10)


def test_bay_of_a_cold_engine_is_at_ambient_and_never_below():
    found = table_of(block=COLD)
    over = channel(found, "bay_temperature") - 293.15
    assert over[0] == 0.0
    assert np.all(over >= 0.0)
    assert np.all(over < 20.0)
    frozen = table_of(block=263.15, warm_block=263.15)  # a block colder than the air
    assert np.all(channel(frozen, "bay_temperature") == 293.15)


def test_output_interval_thins_the_rows_but_not_the_samples():
    thin = table_of(interval=2.0, output=30.0, events=[TimedEvent(100.0, CAP, "off")])
    expected = [*np.arange(0.0, 91.0, 30.0), 100.01, *np.arange(120.0, 991.0, 30.0), 1000.0]
    assert thin.output_time[thin.kept].tolist() == pytest.approx(expected, rel=1e-14)  # rows are set to nanoseconds
    assert set(np.arange(0.0, 1001.0, 2.0)) <= set(thin.time)
    fine = table_of(interval=60.0, output=0.5)
    assert np.array_equal(fine.output_time[fine.kept], np.arange(0.0, 1000.1, 0.5))


def test_race_that_does_not_end_on_a_sample_ends_with_a_row():
    found = table_of([Stretch(10.3, 10.0, 300.0, 0.0, 0.0, None)], interval=0.1)
    assert found.output_time[-1] == 10.3
    assert len(found.output_time) == 104


def test_event_at_the_very_end_adds_no_row_beyond_it():
    found = table_of(events=[TimedEvent(1000.0, CAP, "off")])
    assert found.time[-1] == 1000.0
    assert np.all(channel(found, "cap_on") == 1.0)


def test_an_engine_at_no_speed_is_an_engine_that_stands():
    idle = Stretch(7200.0, 0.0, 0.0, 0.0, 0.0, None)
    table = table_of([idle], block=COLD)
    assert np.all(channel(table, "block_temperature") == 293.15)
    assert np.all(channel(table, "bay_temperature") == 293.15)


def test_a_ram_takes_a_second_to_its_new_place():
    table = table_of()
    assert at(table, "steering_position", 599.9) == pytest.approx(0.3, rel=1e-12)
    assert at(table, "steering_position", 600.5) == pytest.approx(0.0, abs=1e-12)
    assert at(table, "steering_position", 601.0) == pytest.approx(-0.3, rel=1e-12)


def test_bay_hardly_depends_on_the_sample_interval():
    pieces = [Stretch(600.0, 20.0, 400.0, 0.0, 0.0, None)]
    coarse, fine = table_of(pieces, block=COLD, interval=60.0), table_of(pieces, block=COLD, interval=0.1)
    knots = np.arange(0.0, 601.0, 60.0)
    # second order: a sixth of the lag in one interval leaves 0.1 K of 20 K
    assert at(coarse, "bay_temperature", knots) == pytest.approx(at(fine, "bay_temperature", knots), abs=0.1)


def test_every_knot_of_a_piece_is_a_row_and_channels_run_straight_between():
    lap = recorded([0.0, 0.4, 7.7, 20.0], [0.0, 5.0, 30.0, 10.0], 400.0, [0.0, 1e6, 5e6, 2e6], [0.0, 9.0, 99.0, 50.0])
    found = table_of([lap], interval=3.0)
    expected = np.union1d([0.4, 7.7], [*np.arange(0.0, 19.0, 3.0), 20.0])
    assert np.unique(found.time) == pytest.approx(expected, abs=1e-9)  # rows are set to nanoseconds
    assert found.output_time.tolist() == [*np.arange(0.0, 19.0, 3.0), 20.0]
    load = np.interp(found.time, [0.0, 0.4, 7.7, 20.0], [0.0, 1e6, 5e6, 2e6])
    assert channel(found, "steering_load") == pytest.approx(load, abs=1e-2)  # 2.5 MPa/s over a nanosecond
    heights = np.interp(found.output_time, [0.0, 0.4, 7.7, 20.0], [0.0, 9.0, 99.0, 50.0])
    assert found.elevation == pytest.approx(heights, abs=1e-6)


def test_distance_is_the_integral_of_the_vehicle_speed():
    lap = recorded([0.0, 10.0, 20.0], [0.0, 20.0, 0.0], 400.0)
    found = table_of([lap], laps=2, interval=5.0)
    assert found.distance.tolist() == [0.0, 25.0, 100.0, 175.0, 200.0, 225.0, 300.0, 375.0, 400.0]


def test_engine_that_stalls_within_a_lap_carries_no_load_and_lets_the_block_cool():
    lap = recorded([0.0, 100.0, 100.5, 500.0], 5.0, [300.0, 300.0, 0.0, 0.0], 2e6)
    found = table_of([lap], interval=10.0)
    assert np.all(channel(found, "steering_load")[found.time > 100.5] == 0.0)
    assert np.all(channel(found, "engine_speed")[found.time > 100.5] == 0.0)
    block = channel(found, "block_temperature")
    assert np.all(block[found.time < 100.0] == 363.15)
    assert block[-1] == pytest.approx(293.15 + 70.0 * np.exp(-399.5 / 5400.0), abs=1e-9)  # exact lag; rounding


def test_accelerations_jump_between_stretches_and_run_straight_in_a_recording():
    found = table_of([dataclasses.replace(DRIVE, acceleration=(4.0, -3.0, 2.0)), BACK])
    for name, value in zip(ACCELERATIONS, (4.0, -3.0, 2.0), strict=True):
        assert during(found, name, 0.0, 600.0) == [value]
        assert during(found, name, 600.0, 1000.0) == [0.0]
    lap = recorded([0.0, 10.0, 20.0], 5.0, 400.0, acceleration=([0.0, 8.0, 0.0], 0.0, [-9.8, 9.8, -9.8]))
    found = table_of([lap], interval=4.0)
    assert channel(found, "forward_acceleration") == pytest.approx(np.interp(found.time, [0, 10, 20], [0, 8, 0]))
    assert at(found, "upward_acceleration", 5.0) == pytest.approx(0.0, abs=1e-12)  # half way up; rounding
