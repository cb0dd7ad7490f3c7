"""A lap as a scenario describes it: segments, the gears that they are driven in, and laps that differ."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from ullage.scenario.fields import Spec, quantity
from ullage.scenario.lap_words import SteeringWord, SurfaceWord

MOST_LAPS = 1000


def lap_number(default: int | None, description: str) -> Any:
    """Declare a key that is the number of a lap, from 1."""
    return Field(default=default, strict=True, ge=1, le=MOST_LAPS, description=description)


class Segment(Spec):
    """A stretch of the lap: constant values or means with spreads; elevation runs evenly to its end value."""

    name: str = Field(default="", description="name of the stretch")
    first_lap: int = lap_number(1, "driven from this lap on")
    last_lap: int | None = lap_number(None, "driven up to this lap; to the last of the race if absent")
    length: float | None = quantity("length", "1 m", "500 km", None, "length; else give the duration")
    duration: float | None = quantity("time", "0.1 s", "24 h", None, "duration; else give the length")
    duration_spread: float = quantity("time", "0 s", "12 h", "0 s", "standard deviation of the duration, lap by lap")
    surface: SurfaceWord | None = Field(
        default=None, description="ground; stands for the spreads and the steering that are not given"
    )
    steering: SteeringWord | None = Field(
        default=None, description="severity of the steering; stands for what is not given of the load"
    )
    vehicle_speed: float | None = quantity("speed", "0 km/h", "250 km/h", None, "vehicle speed; 0 if absent")
    vehicle_speed_spread: float | None = quantity(
        "speed", "0 km/h", "70 km/h", None, "its standard deviation; 0 if absent"
    )
    vehicle_speed_low: float | None = quantity(
        "speed", "0 km/h", "250 km/h", None, "lower end of a band, in place of mean and spread"
    )
    vehicle_speed_high: float | None = quantity("speed", "0 km/h", "250 km/h", None, "upper end of the band")
    engine_speed: float | None = quantity(
        "rotation", "0 rpm", "10000 rpm", None, "engine speed; may stay out with a band or with gears"
    )
    engine_speed_spread: float | None = quantity(
        "rotation", "0 rpm", "2000 rpm", None, "its standard deviation; 0 if absent"
    )
    engine_speed_low: float | None = quantity(
        "rotation", "0 rpm", "10000 rpm", None, "lower end of a band; with gears, where they are changed down"
    )
    engine_speed_high: float | None = quantity(
        "rotation", "0 rpm", "10000 rpm", None, "upper end of the band; with gears, where they are changed up"
    )
    steering_load: float | None = quantity(
        "pressure difference", "0 bar", "250 bar", None, "pressure for the ram; 0 if absent"
    )
    steering_load_spread: float | None = quantity(
        "pressure difference", "0 bar", "90 bar", None, "its standard deviation; 0 if absent"
    )
    steering_load_peak: float | None = quantity(
        "pressure difference", "0 bar", "250 bar", None, "what pulses of the load stay below"
    )
    lock_holds: int = Field(
        default=0, strict=True, ge=0, le=1000, description="how often the wheel is held on the lock in it"
    )
    lock_hold: float = quantity("time", "0.2 s", "60 s", "2 s", "how long, on average")
    steering_position: float = quantity(
        "number", "-1", "1", "0", "ram position", sign="positive: ram holds more oil; 1 and -1 are the ends"
    )
    forward_acceleration: float = quantity(
        "acceleration", "-3 gn", "3 gn", "0 gn", "of the truck", sign="positive: speeding up"
    )
    left_acceleration: float = quantity(
        "acceleration", "-3 gn", "3 gn", "0 gn", "of the truck", sign="positive: in a left-hand bend"
    )
    upward_acceleration: float = quantity(
        "acceleration",
        "-3 gn",
        "10 gn",
        "0 gn",
        "of the truck",
        sign="positive: thrown up; 0 at rest, -1 gn in free fall",
    )
    elevation: float | None = quantity(
        "length", "-400 m", "5000 m", None, "at the end of the segment", sign="above sea level positive"
    )
    water_temperature: float | None = quantity(
        "temperature", "0 degC", "40 degC", None, "the segment is a crossing of water this warm"
    )
    mud: float = quantity(
        "number", "0", "0.95", "0", "share of the cooler's core that mud of this segment covers until it is washed"
    )


class Gear(Spec):
    """A gear, the lowest first: a vehicle speed and the engine speed that belongs to it."""

    vehicle_speed: float = quantity("speed", "1 km/h", "400 km/h", "required", "a vehicle speed in this gear")
    engine_speed: float = quantity("rotation", "100 rpm", "15000 rpm", "required", "the engine speed there")


class Change(Spec):
    """Laps that are driven differently, such as in traffic or by a tired driver."""

    segment: str | None = Field(default=None, description="name of the segment; all of them if absent")
    first_lap: int = lap_number(1, "from this lap on")
    last_lap: int | None = lap_number(None, "up to this lap; to the last of the race if absent")
    vehicle_speed_factor: float = quantity("number", "0.1", "3", "1", "on vehicle speeds and their spreads")
    engine_speed_factor: float = quantity(
        "number", "0.1", "3", "1", "on engine speeds and their spreads, or on where gears are changed"
    )
    steering_load_factor: float = quantity("number", "0", "10", "1", "on the load, its spread and its peak")
