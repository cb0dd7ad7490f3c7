"""A hot truck at a stop, studied once for all tests of words."""

import functools

from support import truck
from ullage.advise.pit_study import pit_study

LAP = {"duration": "10 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "60 bar"}
HOT = {
    "duty.segment": [LAP],
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "3 min"}],
    "start.temperature": "25 degC",
    "weather.temperature": "20 degC",
    "cooler.fan_air_speed": "4 m/s",
    "air.model": "kinetic",
}
VENTED = {**HOT, "cap.kind": "vented", "cap.relief_pressure": None}
COLD = {
    **HOT,
    "start.temperature": "20 degC",
    "duty.laps": 1,
    "duty.stop": [{"name": "pit", "after_lap": 0, "duration": "3 min"}],
}


@functools.cache
def study_of(name, units="metric"):
    """Return the study of a truck by name, with words in some units."""
    return pit_study(truck({"hot": HOT, "vented": VENTED, "cold": COLD}[name]), units=units)
