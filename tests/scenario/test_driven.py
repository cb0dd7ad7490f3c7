import typing

import numpy as np
import pytest

from support import truck
from ullage.duty.generator import ENGINE_FURTHEST, FURTHEST, largest_load_spread
from ullage.scenario.driven import Factors, driven, spells
from ullage.scenario.lap_spec import Gear, Segment
from ullage.scenario.lap_words import STEERING, SURFACES, SteeringWord, SurfaceWord

KMH, RPM, BAR = 1.0 / 3.6, np.pi / 30.0, 1e5
GEARS = (
    Gear(vehicle_speed="40 km/h", engine_speed="6000 rpm"),
    Gear(vehicle_speed="80 km/h", engine_speed="6000 rpm"),
)


def numbers(gears=(), **keys):
    """Return what a segment comes to."""
    given = {"duration": "10 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", **keys}
    return driven(Segment(**{key: value for key, value in given.items() if value is not None}), gears)


def test_words_of_the_file_are_those_of_the_tables():
    assert typing.get_args(SurfaceWord) == tuple(SURFACES)
    assert typing.get_args(SteeringWord) == tuple(STEERING)


@pytest.mark.parametrize("word", STEERING)
def test_pulses_can_be_what_a_word_for_the_steering_says(word):
    load, spread, peak = STEERING[word]
    assert spread < 0.9 * largest_load_spread(load, peak)


def test_words_for_the_steering_get_heavier():
    rows = np.array([*STEERING.values()])
    assert np.all(np.diff(rows, axis=0) > 0.0)
    assert STEERING["medium"] == (15 * BAR, 12 * BAR, 90 * BAR)


def test_segment_without_words_is_what_it_says_with_usual_ground():
    found = numbers(steering_load="9 bar")
    assert (found.vehicle_speed, found.engine_speed) == ((60.0 * KMH, 0.0), (pytest.approx(4000.0 * RPM), 0.0))
    assert (found.steering_load, found.ground_roughness) == ((9 * BAR, 0.0, 0.0), 1.0)
    assert (found.varies, found.assumed) == (False, ())


@pytest.mark.parametrize("word", SURFACES)
def test_surface_gives_roughness_spreads_and_steering(word):
    found, surface = numbers(surface=word), SURFACES[word]
    assert found.ground_roughness == surface.ground_roughness
    assert found.vehicle_speed.spread == pytest.approx(surface.vehicle_speed_share * 60.0 * KMH)
    assert found.engine_speed.spread == pytest.approx(surface.engine_speed_share * 4000.0 * RPM)
    assert found.steering_load == STEERING[surface.steering]
    assert found.assumed == (
        *("vehicle_speed_spread", "engine_speed_spread"),
        *("steering_load", "steering_load_spread", "steering_load_peak"),
    )


def test_what_a_segment_gives_itself_comes_before_its_words():
    own = {"vehicle_speed_spread": "2 km/h", "engine_speed_spread": "0 rpm", "steering": "light"}
    found = numbers(surface="rock", **own)
    assert (found.vehicle_speed.spread, found.engine_speed.spread) == (pytest.approx(2.0 * KMH), 0.0)
    assert found.steering_load == STEERING["light"]
    assert found.assumed == ("steering_load", "steering_load_spread", "steering_load_peak")
    own = {"steering_load": "20 bar", "steering_load_spread": "3 bar", "steering_load_peak": "60 bar"}
    assert numbers(steering="heavy", **own).steering_load == (20 * BAR, 3 * BAR, 60 * BAR)


def test_word_takes_the_size_of_a_load_that_is_given():
    # 30 bar are twice what "medium" stands for
    assert numbers(steering="medium", steering_load="30 bar").steering_load == (30 * BAR, 24 * BAR, 180 * BAR)
    load, spread, peak = numbers(steering="medium", steering_load="200 bar").steering_load
    assert (load, peak) == (200 * BAR, 250 * BAR)  # the most that is accepted
    assert spread == largest_load_spread(load, peak)


def test_band_is_a_mean_in_its_middle_with_a_quarter_of_its_width():
    band = {"vehicle_speed": None, "vehicle_speed_low": "45 km/h", "vehicle_speed_high": "70 km/h"}
    found = numbers(**band, surface="whoops")
    assert found.vehicle_speed == (pytest.approx(57.5 * KMH), pytest.approx(6.25 * KMH))
    band = {"engine_speed": None, "engine_speed_low": "3500 rpm", "engine_speed_high": "5900 rpm"}
    assert numbers(**band).engine_speed == (pytest.approx(4700.0 * RPM), pytest.approx(600.0 * RPM))


@pytest.mark.parametrize(("low", "high"), [("0 km/h", "60 km/h"), ("190 km/h", "250 km/h")])
def test_band_near_the_end_of_the_range_keeps_within_it(low, high):
    mean, spread = numbers(vehicle_speed=None, vehicle_speed_low=low, vehicle_speed_high=high).vehicle_speed
    assert 0.0 < spread < 15.0 * KMH
    room = min(mean, 250.0 * KMH - mean)
    assert FURTHEST * spread == pytest.approx(room)


def test_spread_of_a_word_keeps_within_the_range():
    found = numbers(surface="rock", vehicle_speed="240 km/h", engine_speed="9900 rpm")
    assert found.vehicle_speed.spread == pytest.approx(10.0 * KMH / FURTHEST)
    assert found.engine_speed.spread == pytest.approx(100.0 * RPM / ENGINE_FURTHEST)


def test_engine_speed_goes_by_gears_where_it_is_not_given():
    shift = {"engine_speed_low": "2500 rpm", "engine_speed_high": "5500 rpm"}
    found = numbers(GEARS, engine_speed=None, **shift)
    assert found.gearbox.ratios == pytest.approx([150.0 * RPM / KMH, 75.0 * RPM / KMH])
    assert found.gearbox[1:] == pytest.approx((2500.0 * RPM, 5500.0 * RPM))
    assert numbers(GEARS).gearbox is None


def test_changes_of_laps_multiply_where_they_meet_and_laps_alike_stay_together():
    change = [
        {"first_lap": 3, "vehicle_speed_factor": 0.8},
        {"first_lap": 4, "last_lap": 5, "segment": "whoops", "vehicle_speed_factor": 0.5, "steering_load_factor": 2.0},
        {"segment": "sand", "engine_speed_factor": 0.9},
    ]
    duty = truck({"duty.laps": 7, "duty.segment.0.name": "whoops"}).spec.duty
    sand = duty.segment[0].model_copy(update={"name": "sand", "first_lap": 2, "last_lap": 3})
    duty = duty.model_copy(update={"segment": (duty.segment[0], sand)})
    assert [tuple(spell) for spell in spells(duty, duty.segment[0])] == [(1, 7, (1.0, 1.0, 1.0))]
    duty = type(duty).model_validate({**duty.model_dump(), "change": change})
    assert [tuple(spell) for spell in spells(duty, duty.segment[0])] == [
        (1, 2, (1.0, 1.0, 1.0)),
        (3, 3, (0.8, 1.0, 1.0)),
        (4, 5, (0.4, 1.0, 2.0)),
        (6, 7, (0.8, 1.0, 1.0)),
    ]
    assert [tuple(spell) for spell in spells(duty, sand)] == [(2, 2, (1.0, 0.9, 1.0)), (3, 3, (0.8, 0.9, 1.0))]


def test_change_of_the_load_keeps_its_peak_within_the_range():
    severe = numbers(steering="severe")
    assert severe.changed(Factors(1.0, 1.0, 1.5)).steering_load == pytest.approx((67.5 * BAR, 24 * BAR, 150 * BAR))
    load, spread, peak = severe.changed(Factors(1.0, 1.0, 4.0)).steering_load
    assert (load, peak) == (180 * BAR, 250 * BAR)
    assert spread == largest_load_spread(load, peak)


def test_change_moves_where_gears_are_changed():
    shift = {"engine_speed_low": "2500 rpm", "engine_speed_high": "5500 rpm"}
    box = numbers(GEARS, engine_speed=None, **shift).changed(Factors(0.9, 0.8, 1.0)).gearbox
    assert (box.down, box.up) == pytest.approx((2000.0 * RPM, 4400.0 * RPM))
