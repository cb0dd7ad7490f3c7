import dataclasses
import math

import numpy as np
import pytest
from race_tables import recorded, table_of

from ullage.duty.laps import NamedStop, lay_out
from ullage.duty.profile import Profile, Spread, Stretch
from ullage.duty.statistics import duty_statistics
from ullage.kernel.inputs import STANDING_SPEED

UP = Stretch(10.0, 20.0, 400.0, 2e6, 0.0, 100.0)
DOWN = Stretch(5.0, 10.0, 300.0, 1e6, 0.0, 50.0)
RELIEF = 11e6
IDLING = NamedStop("idle", 1, 60.0, True, 90.0, 0.0)
OFF = NamedStop("off", 1, 40.0, False, 90.0, 0.0)
DRAWN = Stretch(3600.0, 15.0, 450.0, 2e6, 0.0, 0.0, Spread(2.0, 40.0, 1e6, 8e6))


def statistics(stretches, stops=(), laps=1, elevation=0.0, relief=RELIEF, switches=(), seed=0):
    return duty_statistics(lay_out(stretches, stops, laps, elevation, seed)[0], relief, switches)


def test_a_constant_segment_has_its_own_values_and_no_spread():
    found = statistics([UP, DOWN], laps=3).segments[0]
    assert found.laps == 3
    assert (found.time, found.distance) == pytest.approx((30.0, 600.0), rel=1e-12)  # sums of a few numbers
    for channel, value in (("vehicle_speed", 20.0), ("engine_speed", 400.0), ("steering_load", 2e6)):
        mean, spread, lowest, highest = getattr(found, channel)
        assert mean == pytest.approx(value, rel=1e-14)
        assert spread <= 1e-13 * value
        assert lowest == highest == value


def test_a_straight_ramp_has_the_mean_and_the_spread_of_a_uniform_distribution():
    ramp = recorded([0.0, 10.0], [0.0, 12.0], [100.0, 400.0])
    found = statistics([ramp]).race
    assert found.vehicle_speed == pytest.approx((6.0, 12.0 / math.sqrt(12.0), 0.0, 12.0), rel=1e-12)
    assert found.engine_speed == pytest.approx((250.0, 300.0 / math.sqrt(12.0), 100.0, 400.0), rel=1e-12)


def test_share_over_relief_of_a_rectangular_load_is_that_of_its_time():
    load = recorded([0.0, 3.0, 3.0, 5.0, 5.0, 8.0], 10.0, 300.0, [1e6, 1e6, 12e6, 12e6, 1e6, 1e6])
    found = statistics([load], laps=2).race
    assert found.over_relief == pytest.approx(2.0 / 8.0, rel=1e-12)
    assert found.steering_load.mean == pytest.approx((6.0 * 1e6 + 2.0 * 12e6) / 8.0, rel=1e-12)
    share = 0.25
    assert found.steering_load.spread == pytest.approx(11e6 * math.sqrt(share * (1.0 - share)), rel=1e-12)


def test_share_over_relief_of_a_ramp_is_that_of_its_part_above_and_a_load_at_the_setting_is_not_over():
    assert statistics([recorded([0.0, 4.0], 10.0, 300.0, [9e6, 13e6])]).race.over_relief == pytest.approx(0.5)
    at = dataclasses.replace(UP, steering_load=RELIEF)
    assert statistics([at]).race.over_relief == 0.0


def test_climb_and_descent_are_both_positive_and_add_up_over_laps():
    found = statistics([UP, DOWN], laps=2, elevation=50.0)
    assert (found.race.climb, found.race.descent) == (100.0, 100.0)
    assert (found.segments[0].climb, found.segments[0].descent) == (100.0, 0.0)
    assert math.copysign(1.0, found.segments[0].descent) == 1.0  # no minus zero on a screen


def test_times_of_segments_laps_and_stands_are_those_of_the_race():
    stops = [IDLING, OFF, NamedStop("flag", None, 7.0, True, 90.0, 0.0, 3.0)]
    pieces, _ = lay_out([UP, DOWN, DRAWN], stops, 3, 0.0)
    found = duty_statistics(pieces, RELIEF)
    standing = found.standing_engine_on + found.standing_engine_off
    for parts in (found.segments.values(), found.laps.values()):
        # the clock is rounded to a nanosecond at each of some ten boundaries
        assert sum(part.time for part in parts) + standing == pytest.approx(pieces[-1].end, abs=1e-8)
        assert sum(part.distance for part in parts) == pytest.approx(found.race.distance, rel=1e-12)
    assert [*found.laps] == [1, 2, 3]
    assert [part.laps for part in found.segments.values()] == [3, 3, 3]


def test_a_stop_by_time_cuts_a_segment_and_leaves_its_statistics_alone():
    whole = statistics([UP, DRAWN]).segments[1]
    cut = statistics([UP, DRAWN], [NamedStop("flag", None, 100.0, True, 90.0, 0.0, 1234.5)]).segments[1]
    assert cut.time == pytest.approx(whole.time, abs=1e-8)
    # the cut adds a knot on a straight line, and times are rounded to a nanosecond
    assert cut.vehicle_speed == pytest.approx(whole.vehicle_speed, rel=1e-9)
    assert cut.steering_load == pytest.approx(whole.steering_load, rel=1e-9)


def test_standing_time_is_parted_by_the_engine_of_the_stop_and_by_hand():
    assert statistics([UP], [IDLING, OFF])[3:] == pytest.approx((60.0, 40.0))
    switched = statistics([UP], [IDLING, OFF], switches=[(20.0, False), (50.0, True), (100.0, True)])
    assert switched[3:] == pytest.approx((30.0, 70.0))  # the idling stop lasts from 10 s to 70 s
    assert statistics([UP])[3:] == (0.0, 0.0)


def test_a_segment_without_speed_counts_as_standing_too():
    wait = Stretch(120.0, 0.0, 95.0, 0.0, 0.0, None)
    assert statistics([wait, Stretch(60.0, 10.0, 300.0, 0.0, 0.0, None)], laps=2).standing_engine_on == 240.0


def test_a_stand_within_a_recorded_lap_counts_with_its_engine_on_or_off():
    slow, fast = 0.9 * STANDING_SPEED, 1.1 * STANDING_SPEED
    clock = [0.0, 10.0, 10.0, 40.0, 40.0, 47.0, 47.0, 60.0]
    lap = recorded(clock, [9.0, 9.0, slow, slow, slow, slow, fast, fast], [300.0] * 4 + [0.0] * 2 + [300.0] * 2)
    found = statistics([lap], [IDLING], laps=2)  # a jump takes no time; 30 s with the engine on, 7 s without
    assert found.standing_engine_on == pytest.approx(2 * 30.0 + 60.0)
    assert found.standing_engine_off == pytest.approx(2 * 7.0)
    assert found.race.time == pytest.approx(2 * 60.0)  # a stand within the lap is part of it
    switched = statistics([lap], switches=[(15.0, False), (35.0, True)])
    assert switched[3:] == pytest.approx((10.0, 27.0))


def test_a_truck_that_speeds_up_in_a_leg_does_not_stand_in_it():
    rolls = recorded([0.0, 5.0, 9.0, 20.0], [0.0, 0.0, 8.0, 0.0], 200.0)
    assert statistics([rolls]).standing_engine_on == pytest.approx(5.0)


def test_a_drawn_segment_keeps_to_the_mean_and_the_spread_asked():
    found = statistics([DRAWN], seed=11).race
    assert found.vehicle_speed.mean == pytest.approx(15.0, rel=1e-12)  # centred by the generator
    # 5 s of correlation time leave 360 independent values in an hour: 4 standard errors of a mean are 0.21 spreads
    assert found.engine_speed.mean == pytest.approx(450.0, abs=0.21 * 40.0)
    assert found.steering_load.mean == pytest.approx(2e6, abs=0.21 * 1e6)
    # and of a standard deviation 4/sqrt(720), 15 %, below that of knots by what a straight line between two cuts off:
    # variance (2 + k) / 3 with k the correlation of neighbours, 0.82, for the speeds
    assert found.engine_speed.spread == pytest.approx(40.0 * math.sqrt((2.0 + 0.82) / 3.0), rel=0.15)
    assert 0.5e6 < found.steering_load.spread < 1e6  # means over a second have some four fifths of it at their knots
    assert found.steering_load.highest <= 8e6


def test_numbers_agree_with_those_of_the_channel_table():
    stops = [IDLING, NamedStop("flag", None, 7.0, True, 90.0, 0.0, 100.5)]
    pieces, _ = lay_out([UP, DOWN, DRAWN], stops, 2, 0.0, 5)
    table = table_of([UP, DOWN, DRAWN], stops, 2, seed=5)
    found = duty_statistics(pieces, RELIEF)
    # sums of eight thousand legs, in another order
    assert found.race.distance == pytest.approx(table.distance[-1], rel=1e-11)
    for lap, driven in found.laps.items():
        rows = np.flatnonzero(table.lap == lap)
        before = table.distance[rows[0] - 1] if rows[0] else 0.0
        assert driven.distance == pytest.approx(table.distance[rows[-1]] - before, rel=1e-9)


def test_every_channel_of_a_recorded_lap_counts_once_a_lap():
    time = np.array([0.0, 1.0, 4.0, 9.0])
    lap = recorded(time, [0.0, 10.0, 5.0, 0.0], 200.0, [0.0, 3e6, 1e6, 0.0], [10.0, 30.0, 20.0, 10.0])
    found = statistics([lap], [IDLING], laps=4)
    assert [*found.segments] == [0]
    assert found.segments[0] == found.race
    assert found.race.distance == pytest.approx(4.0 * np.trapezoid([0.0, 10.0, 5.0, 0.0], time))
    assert (found.race.climb, found.race.descent) == (80.0, 80.0)
    assert isinstance(lap.variation, Profile)
