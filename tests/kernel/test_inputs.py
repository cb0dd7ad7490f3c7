import numpy as np
import pytest

from ullage.kernel.inputs import FIRST_HELD, INPUTS, Inputs, Warmth, goes_on, write_channels
from ullage.kernel.params import CHANNEL_INDEX, CHANNELS, FIRST_MODE, Forcing
from ullage.kernel.settings import Settings
from ullage.kernel.state import filled_record
from ullage.physics.atmosphere import pressure

AROUND = {
    "surroundings_bay_offset": 20.0,
    "surroundings_stop_rise": 10.0,
    "surroundings_bay_settling_time": 180.0,
    "surroundings_block_temperature": 363.15,
    "surroundings_block_warming_time": 360.0,
    "surroundings_block_cooling_time": 5400.0,
    "surroundings_wet_factor": 8.0,
    "weather_pressure_offset": 250.0,
}
DRIVING = {"engine_speed": 400.0, "vehicle_speed": 20.0, "steering_load": 2e6, "ambient_temperature": 293.15}
ON = {"engine_on": 1.0, "cap_on": 1.0}


def given(**values):
    return filled_record(Inputs, {**DRIVING, **ON, **values})


def channels(before, after, length=1.0, block=293.15, rise=0.0):
    """Return the channels at both ends of a step, and how warm the surroundings are then."""
    warmth = filled_record(Warmth, {"block_temperature": block, "bay_rise": rise})
    left, right = np.empty(len(CHANNELS)), np.empty(len(CHANNELS))
    write_channels(filled_record(Settings, AROUND), warmth, before, after, length, left, right)
    return Forcing(*left), Forcing(*right), warmth


def test_what_is_linear_has_its_own_value_at_each_end_and_what_is_held_that_of_the_step():
    left, right, _ = channels(given(vehicle_speed=10.0, cap_on=1.0), given(vehicle_speed=20.0, cap_on=0.0))
    assert (left.vehicle_speed, right.vehicle_speed) == (10.0, 20.0)
    assert left.cap_on == right.cap_on == 0.0


@pytest.mark.parametrize("name", [name for name in INPUTS[FIRST_HELD:] if name in CHANNEL_INDEX])
def test_held_input_is_the_channel_of_its_name_and_no_other(name):
    found = channels(given(), given(**{name: 0.5}))[0]
    whole = channels(given(), given())[0]
    assert getattr(found, name) == 0.5
    assert {other for other in CHANNELS if getattr(found, other) != getattr(whole, other)} == {name}


def test_an_engine_that_is_off_or_hardly_turns_neither_turns_the_pump_nor_steers():
    for stands in ({"engine_on": 0.0}, {"engine_speed": 0.9}):
        left, right, _ = channels(given(**stands), given(**stands))
        assert left.engine_speed == right.engine_speed == left.steering_load == right.steering_load == 0.0
    starts = channels(given(engine_speed=0.0), given(engine_speed=80.0))[1]
    assert starts.engine_speed == 80.0  # its mean over the step turns


def test_ambient_pressure_is_the_standard_one_and_the_weather():
    left, right, _ = channels(given(elevation=1500.0), given(elevation=0.0))
    assert left.ambient_pressure == pressure(1500.0) + 250.0
    assert right.ambient_pressure == pressure(0.0) + 250.0


def test_block_warms_and_cools_by_its_time_constants_in_steps_of_any_length():
    _, right, warmth = channels(given(), given(), length=360.0)
    assert right.block_temperature == pytest.approx(363.15 - 70.0 * np.exp(-1.0), rel=1e-14)  # rounding
    halves = channels(given(), given(), length=180.0)[2]
    halves = channels(given(), given(), 180.0, halves.block_temperature, halves.bay_rise)[2]
    assert halves.block_temperature == pytest.approx(warmth.block_temperature, rel=1e-14)  # rounding
    off = given(engine_on=0.0)
    assert channels(off, off, 5400.0, 363.15)[1].block_temperature == pytest.approx(
        293.15 + 70.0 * np.exp(-1.0), rel=1e-14
    )


def test_bay_settles_over_ambient_behind_a_warm_block_and_rises_when_the_truck_stands():
    _, right, _ = channels(given(), given(), 180.0, 363.15)
    assert right.bay_temperature == pytest.approx(293.15 + 20.0 * (1.0 - np.exp(-1.0)), rel=1e-14)  # rounding
    standing = given(vehicle_speed=0.0)
    # rounding
    assert channels(standing, standing, 1e5, 363.15)[1].bay_temperature == pytest.approx(293.15 + 30.0, rel=1e-14)
    cold = channels(given(), given(), 1.0, 263.15)[1]  # a block colder than the air draws no warmth out of the bay
    assert cold.bay_temperature == 293.15


def test_water_of_a_crossing_takes_the_place_of_the_air_and_wets_the_parts():
    left, right, warmth = channels(given(), given(in_water=1.0, water_temperature=285.0), 1.0, 363.15, 12.0)
    assert left.bay_temperature == right.bay_temperature == 285.0
    assert left.wetting == 8.0
    assert warmth.bay_rise > 11.9  # the bay itself goes on, and is there again behind the crossing
    assert channels(given(), given())[0].wetting == 1.0


def test_step_of_no_length_leaves_the_surroundings_as_they_are():
    left, right, warmth = channels(given(), given(), 0.0, 340.0, 12.0)
    assert left == right
    # exp(0) is 1, a sum and a difference round
    assert [warmth.block_temperature, warmth.bay_rise] == pytest.approx([340.0, 12.0], rel=1e-15)


@pytest.mark.parametrize("place", range(len(CHANNELS)))
def test_channels_go_on_over_rounding_but_not_over_a_switch(place):
    before = np.full(len(CHANNELS), 5.0)
    after = before.copy()
    after[place] *= 1.0 + 1e-12
    assert goes_on(before, after) == (place < FIRST_MODE)
    after[place] = 5.001
    assert not goes_on(before, after)
    after[place] = np.nan
    assert not goes_on(before, after)
