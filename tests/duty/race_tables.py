"""Channel tables of small races, and how tests look at them."""

import numpy as np

from ullage.duty.channels import build_table
from ullage.duty.events import Sound
from ullage.duty.laps import lay_out
from ullage.duty.profile import Profile, Stretch
from ullage.duty.race_inputs import Weather, race_inputs
from ullage.kernel.params import CHANNEL_INDEX
from ullage.kernel.settings import Settings
from ullage.kernel.state import filled_record

WET_FACTOR = 10.0


def surroundings(start, warm_block, pressure_offset):
    """Return settings that say what is around the parts of these races."""
    values = {
        "surroundings_bay_offset": 20.0,
        "surroundings_stop_rise": 10.0,
        "surroundings_bay_settling_time": 180.0,
        "surroundings_block_temperature": warm_block,
        "surroundings_block_warming_time": 360.0,
        "surroundings_block_cooling_time": 5400.0,
        "surroundings_wet_factor": WET_FACTOR,
        "weather_pressure_offset": pressure_offset,
        "start_temperature": start,
    }
    return filled_record(Settings, values)


WARM, COLD = 363.15, 293.15  # block at the start: at its own temperature, so that the bay follows on its own, or cold
SOUND = Sound(leak_area=2e-9, core_blockage=0.2, water_content=1e-5)
STILL = Weather((0.0,), (293.15,), 0.0)
DRIVE = Stretch(600.0, 20.0, 400.0, 2e6, 0.3, 1500.0)
BACK = Stretch(400.0, 10.0, 300.0, 1e6, -0.3, 0.0)


def table_of(
    stretches=(DRIVE, BACK),
    stops=(),
    laps=1,
    events=(),
    weather=STILL,
    block=WARM,
    warm_block=WARM,
    sound=SOUND,
    interval=1.0,
    output=None,
    start=0.0,
    seed=0,
):
    """Return the table of a race."""
    pieces, _ = lay_out(stretches, stops, laps, start, seed)
    race = race_inputs(pieces, events, weather, sound, interval, output or interval)
    return build_table(race, pieces, surroundings(block, warm_block, weather.pressure_offset))


def channel(table, name):
    """Return one channel at all rows of a table."""
    return table.channels[:, CHANNEL_INDEX[name]]


def at(table, name, time):
    """Return a channel at a time that is no jump."""
    return np.interp(time, table.time, channel(table, name))


def integral(table, name):
    """Integrate a channel over the race; it is linear between rows and jumps between rows of one time."""
    return np.trapezoid(channel(table, name), table.time)


def recorded(time, vehicle_speed, engine_speed, steering_load=0.0, elevation=0.0, acceleration=(0.0, 0.0, 0.0)):
    """Return a recorded lap from values at knots; a number is constant."""
    clock = np.array(time)
    values = (vehicle_speed, engine_speed, steering_load, elevation, *acceleration)
    profile = Profile(clock, *(np.broadcast_to(np.array(value, dtype=float), clock.shape) for value in values))
    return Stretch(clock[-1], 0.0, 0.0, 0.0, 0.0, float(profile.elevation[-1]), profile)


def during(table, name, begin, end):
    """Return the values that a channel has in the intervals between two times, sorted."""
    inside = (table.time[:-1] >= begin) & (table.time[1:] <= end) & (np.diff(table.time) > 0.0)
    return sorted(set(channel(table, name)[:-1][inside].tolist()))
