"""The race as a scenario describes it: lap, stops, timed events, weather, start, output."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from ullage.scenario.event_spec import Event
from ullage.scenario.fields import Level, Spec, quantity
from ullage.scenario.lap_spec import MOST_LAPS, Change, Gear, Segment, lap_number
from ullage.scenario.measured_spec import Measured
from ullage.scenario.pit_spec import Pit
from ullage.scenario.recording_spec import LapRecording
from ullage.scenario.spec import (
    Air,
    Cap,
    Cooler,
    FeedLine,
    Fluid,
    Pump,
    Reservoir,
    ReturnLine,
    SteeringGear,
    Surroundings,
)
from ullage.scenario.track_spec import LapTrack

FORMAT = 1


class Stop(Spec):
    """A named stop after a lap, or at a race time."""

    name: str = Field(description="name of the stop; events can count from it")
    after_lap: int | None = Field(
        default=None, strict=True, ge=0, le=MOST_LAPS, description="stands after this lap; 0 is before the first"
    )
    time: float | None = quantity("time", "0 s", "48 h", None, "stands at this race time; else after a lap")
    duration: float = quantity("time", "1 s", "24 h", "required", "standing time")
    duration_spread: float = quantity("time", "0 s", "12 h", "0 s", "its standard deviation")
    engine: Literal["on", "off"] = Field(default="on", description="whether the engine runs")
    engine_speed: float = quantity("rotation", "0 rpm", "10000 rpm", "900 rpm", "engine speed if it runs")
    steering_load: float = quantity("pressure difference", "0 bar", "250 bar", "0 bar", "pressure for the ram")
    cooler_washed: bool = Field(default=False, strict=True, description="whether mud is washed off the cooler")


class Duty(Spec):
    """The race: the lap, how often, and where it stops."""

    laps: Annotated[int, Field(strict=True, ge=1, le=MOST_LAPS)] = Field(default=1, description="number of laps")
    sample_interval: float = quantity("time", "10 ms", "60 s", "1 s", "step of the results")
    seed: int | None = Field(
        default=None, strict=True, ge=0, description="seed of the random numbers; needed by all that is drawn"
    )
    full_lock_load: float | None = quantity(
        "pressure difference",
        "10 bar",
        "300 bar",
        None,
        "load of a wheel held on the lock; 1.2 times the pump's relief pressure if absent",
    )
    gear: tuple[Gear, ...] = ()
    segment: tuple[Segment, ...] = ()
    change: tuple[Change, ...] = ()
    recording: LapRecording | None = None
    track: LapTrack | None = None
    stop: tuple[Stop, ...] = ()


class WeatherPoint(Spec):
    """Ambient temperature at a race time, or as a lap begins; linear between points."""

    time: float | None = quantity("time", "0 s", "200 h", None, "race time; else give the lap")
    lap: int | None = lap_number(None, "as this lap begins, after the stops before it")
    temperature: float = quantity("temperature", "-40 degC", "55 degC", "required", "ambient temperature")


class Weather(Spec):
    """Ambient temperature and pressure."""

    temperature: float = quantity("temperature", "-40 degC", "55 degC", "20 degC", "ambient, if it stays the same")
    pressure_offset: float = quantity(
        "pressure difference",
        "-5 kPa",
        "5 kPa",
        "0 kPa",
        "weather, over the standard atmosphere",
        sign="positive: high pressure",
    )
    point: tuple[WeatherPoint, ...] = ()


class Start(Spec):
    """State when the cap was shut before the race."""

    temperature: float | None = quantity("temperature", "-40 degC", "120 degC", None, "of oil, metal and air space")
    elevation: float = quantity(
        "length", "-400 m", "5000 m", "0 m", "where the race starts", sign="above sea level positive"
    )
    headspace_pressure: Level | None = quantity(
        "pressure level", "-0.5 barg", "4 barg", None, "in the air space; ambient if absent"
    )
    air_saturation: float = quantity("number", "0", "1", "1", "dissolved air over saturation at ambient", weak=True)
    trapped_air: float = quantity("volume", "0 mL", "2 L", "0 mL", "air left in hoses and gear by the first fill")


class Output(Spec):
    """What is kept."""

    interval: float | None = quantity("time", "10 ms", "1 h", None, "step of the results if not every sample")


class Display(Spec):
    """How results are shown."""

    units: Literal["metric", "us"] = Field(default="metric", description="units of what is printed")


class ScenarioSpec(Spec):
    """A whole scenario file."""

    format: Annotated[int, Field(strict=True, ge=FORMAT, le=FORMAT)] = Field(
        description="version of the file format, always 1"
    )
    title: str = Field(default="", description="title of the scenario")
    fluid: Fluid
    reservoir: Reservoir
    cap: Cap
    pump: Pump
    steering_gear: SteeringGear = Field(default_factory=SteeringGear)
    return_line: ReturnLine = Field(default_factory=ReturnLine)
    cooler: Cooler = Field(default_factory=Cooler)
    feed_line: FeedLine = Field(default_factory=FeedLine)
    surroundings: Surroundings = Field(default_factory=Surroundings)
    air: Air = Field(default_factory=Air)
    weather: Weather = Field(default_factory=Weather)
    start: Start = Field(default_factory=Start)
    duty: Duty
    event: tuple[Event, ...] = ()
    measured: Measured | None = None
    pit: Pit = Field(default_factory=Pit)
    output: Output = Field(default_factory=Output)
    display: Display = Field(default_factory=Display)

    @property
    def digests(self) -> tuple[str, ...]:
        """Digests of the files that it reads."""
        recording, track, measured = self.duty.recording, self.duty.track, self.measured
        logs = [table.log.digest for table in (recording, measured) if table]
        return (*logs, track.course.digest) if track else tuple(logs)
