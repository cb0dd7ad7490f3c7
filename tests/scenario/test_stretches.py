import numpy as np
import pytest

from support import truck
from ullage.scenario.circuit import weather_of
from ullage.scenario.compile import forcing_of
from ullage.scenario.race import race_pieces
from ullage.scenario.stretches import loads_of, stop_duration

KMH, RPM = 1.0 / 3.6, np.pi / 30.0
LAP = [
    {"name": "climb", "length": "6 km", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "elevation": "500 m"},
    {"name": "loop", "duration": "2 min", "vehicle_speed": "30 km/h", "engine_speed": "3000 rpm", "last_lap": 1}
    | {"elevation": "700 m", "surface": "sand", "steering_load": "20 bar"},
    {"name": "home", "length": "6 km", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "elevation": "0 m"},
]
RACE = {"duty.laps": 2, "duty.seed": 5, "duty.segment": LAP}
SEEDS = range(400)


def driven_pieces(changes=None):
    """Return the pieces of the race that are no stops."""
    return [piece for piece in race_pieces(truck({**RACE, **(changes or {})}).spec)[0] if piece.stop is None]


def test_segment_is_driven_in_its_laps_alone_and_heights_follow_what_is_driven():
    found = [(piece.lap, piece.end - piece.start, piece.elevation_start, piece.elevation_end)
             for piece in driven_pieces()]  # fmt: skip
    assert found == [
        (1, 360.0, 0.0, 500.0),
        (1, 120.0, 500.0, 700.0),
        (1, 360.0, 700.0, 0.0),
        (2, 360.0, 0.0, 500.0),
        (2, 360.0, 500.0, 0.0),
    ]


def test_segments_of_other_laps_leave_a_drawn_segment_as_it_is():
    out, loop, home = ({**segment, "vehicle_speed_spread": "4 km/h"} for segment in LAP)
    without = driven_pieces({"duty.segment": [out, home]})
    with_loop = driven_pieces({"duty.segment": [out, {**loop, "first_lap": 2, "last_lap": 2}, home]})
    lap_one, lap_two = with_loop[1], with_loop[4]
    assert (lap_two.lap, lap_two.stretch.place) == (2, 2)
    for piece, same in ((lap_one, without[1]), (lap_two, without[3])):
        assert piece.key == same.key
        assert np.array_equal(piece.profile.vehicle_speed, same.profile.vehicle_speed)  # they begin at whole seconds


def test_segments_of_some_laps_have_streams_by_their_names():
    some = {"duration": "1 min", "engine_speed": "900 rpm", "duration_spread": "20 s", "last_lap": 1}
    first = [{**some, "name": "queue"}, {**some, "name": "ford"}, {**some, "name": "queue"}]
    keys = [piece.key[2] for piece in driven_pieces({"duty.segment": [*first, *LAP]})[:3]]
    assert len(set(keys)) == 3
    without = driven_pieces({"duty.segment": [first[1], *LAP]})
    assert without[0].key[2] == keys[1]


def test_change_of_the_speed_changes_how_long_a_length_takes_and_no_distance():
    slow = driven_pieces({"duty.change": [{"first_lap": 2, "vehicle_speed_factor": 0.5}]})
    lengths = [(piece.end - piece.start) * piece.stretch.vehicle_speed for piece in slow]
    assert lengths == pytest.approx([6000.0, 1000.0, 6000.0, 6000.0, 6000.0])
    assert [piece.end - piece.start for piece in slow] == pytest.approx([360.0, 120.0, 360.0, 720.0, 720.0])


def test_change_of_one_segment_leaves_the_others_and_its_other_laps():
    factors = {"engine_speed_factor": 0.5, "steering_load_factor": 2.0}
    found = driven_pieces({"duty.change": [{"segment": "loop", **factors}], "duty.segment.1.last_lap": 2})
    assert [piece.stretch.engine_speed / RPM for piece in found] == pytest.approx([4000, 1500, 4000] * 2)
    assert [piece.stretch.steering_load for piece in found] == [0.0, 40e5, 0.0] * 2


def test_ground_water_mud_and_washing_come_with_the_pieces():
    changes = {
        "duty.segment.0.water_temperature": "15 degC",
        "duty.segment.0.mud": 0.4,
        "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "60 s", "cooler_washed": True}],
    }
    pieces = [piece.stretch for piece in race_pieces(truck({**RACE, **changes}).spec)[0]]
    assert [piece.ground_roughness for piece in pieces[:3]] == [1.0, 0.6, 1.0]
    assert [piece.water_temperature for piece in pieces[:2]] == [288.15, None]
    assert [piece.mud for piece in pieces[:2]] == [0.4, 0.0]
    assert [piece.cooler_washed for piece in pieces] == [False, False, False, True, False, False]


def test_durations_of_laps_and_stops_have_their_mean_and_spread():
    # 400 seeds, 2 laps and a stop: standard errors of 0.7 s and 0.5 s for the laps, 1 s and 0.7 s for the stop; four
    # times that
    stop = {"name": "pit", "after_lap": 1, "duration": "100 s", "duration_spread": "20 s"}
    changes = {"duty.segment.1.duration_spread": "20 s", "duty.segment.1.last_lap": 2, "duty.stop": [stop]}
    base = truck({**RACE, **changes})
    loops, stops = [], []
    for seed in SEEDS:
        spec = base.spec.model_copy(update={"duty": base.spec.duty.model_copy(update={"seed": seed})})
        pieces, (pit,) = race_pieces(spec)
        loops.append([piece.end - piece.start for piece in pieces if piece.stretch.place == 1])
        stops.append(pit.end - pit.start)
    assert np.mean(loops) == pytest.approx(120.0, abs=2.8)
    assert np.std(loops) == pytest.approx(20.0, abs=2.0)
    assert np.mean(stops) == pytest.approx(100.0, abs=4.0)
    assert np.std(stops) == pytest.approx(20.0, abs=2.8)
    assert abs(np.corrcoef(np.transpose(loops))[0, 1]) < 0.25  # laps know nothing of each other: 5 / sqrt(400)


def test_stop_takes_as_long_whatever_stops_there_are_beside_it():
    stops = [{"name": name, "after_lap": 1, "duration": "100 s", "duration_spread": "20 s"} for name in ("a", "b")]
    both, alone = (truck({**RACE, "duty.stop": each}).spec.duty for each in (stops, stops[1:]))
    assert stop_duration(both, 1) == stop_duration(alone, 0) != stop_duration(both, 0)


def test_same_seed_is_the_same_race():
    changes = {"duty.segment.1.duration_spread": "20 s", "duty.segment.1.lock_holds": 4}
    first, second = driven_pieces(changes), driven_pieces({**changes, "title": "again"})
    for piece, same in zip(first, second, strict=True):
        assert all(map(np.array_equal, piece.profile, same.profile))


def test_wheel_on_the_lock_asks_for_more_than_the_relief_valve_lets_through():
    held = truck({**RACE, "duty.segment.0.lock_holds": 2, "pump.relief_pressure": "100 bar"})
    assert loads_of(held.spec).on_the_lock == pytest.approx(120e5)
    assert loads_of(held.replace({"duty.full_lock_load": "90 bar"}).spec).on_the_lock == 90e5
    assert max(piece.profile.steering_load.max() for piece in race_pieces(held.spec)[0]) == pytest.approx(120e5)


def test_races_with_other_relief_valves_share_a_table_only_without_lock_holds():
    plain = truck(RACE)
    held = truck({**RACE, "duty.segment.0.lock_holds": 2})
    for base, same in ((plain, True), (held, False)):
        other = base.replace({"pump.relief_pressure": "100 bar"})
        assert (forcing_of(base.spec) == forcing_of(other.spec)) == same


def test_weather_of_a_lap_waits_for_the_stops_before_it():
    points = [{"lap": 1, "temperature": "15 degC"}, {"lap": 2, "temperature": "35 degC"}]
    stop = {"name": "pit", "after_lap": 1, "duration": "100 s"}
    weather = weather_of(truck({**RACE, "weather.point": points, "duty.stop": [stop]}).spec)
    assert weather.times == (0.0, 940.0)


def test_halving_the_sample_interval_below_a_second_keeps_the_drive():
    changes = {"duty.segment.0.vehicle_speed_spread": "9 km/h", "duty.segment.1.lock_holds": 3}
    coarse, fine = (driven_pieces({**changes, "duty.sample_interval": step}) for step in ("0.2 s", "0.1 s"))
    for piece, same in zip(coarse, fine, strict=True):
        first, second = piece.profile, same.profile
        for name in ("vehicle_speed", "engine_speed"):
            again = np.interp(first.time, second.time, getattr(second, name))
            assert getattr(first, name) == pytest.approx(again, rel=1e-12)  # rounding
