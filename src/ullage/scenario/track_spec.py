"""A track beside the lap, as a scenario describes it: a GPX file, which part of it, and how it is joined."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, Self

from pydantic import Field, PrivateAttr, ValidationInfo, model_validator
from pydantic_core import PydanticCustomError

from ullage.duty.gpx import TrackError
from ullage.duty.track import Part, Track, read_track
from ullage.scenario.fields import Spec, quantity


class LapTrack(Spec):
    """The ground of the lap: a GPX file beside segments or a recording."""

    file: str = Field(description="name of the GPX file, from the folder of the scenario")
    begin: float | None = quantity("length", "0 m", "5000 km", None, "where the lap begins on the track")
    end: float | None = quantity("length", "0 m", "5000 km", None, "where it ends")
    begin_time: float | None = quantity(
        "time", "0 s", "48 h", None, "when it begins, from the first point; not with begin"
    )
    end_time: float | None = quantity("time", "0 s", "48 h", None, "when it ends")
    smoothing: float = quantity("length", "5 m", "2 km", "100 m", "length over which elevations are averaged, twice")
    join: Literal["distance", "time"] = Field(
        default="distance", description="what tells where on the track the truck is; `time` needs a recording"
    )
    speed: Literal["plan", "track"] = Field(
        default="plan", description="who says how fast segments are driven: they themselves, or the track"
    )
    offset: float | None = quantity(
        "time",
        "-48 h",
        "48 h",
        None,
        "track time at which the recording begins; from the dates of both files if absent",
        sign="positive: the recording begins after the track",
    )
    _course: Track = PrivateAttr()

    @property
    def course(self) -> Track:
        """The part of the file that is the lap."""
        return self._course

    @model_validator(mode="after")
    def _read_file(self, info: ValidationInfo) -> Self:
        by_distance, by_time = (self.begin, self.end), (self.begin_time, self.end_time)
        timed = by_time != (None, None)
        if timed and by_distance != (None, None):
            text = "is cut by distance and by time; give begin and end, or begin_time and end_time"
            raise PydanticCustomError("unit", "{text}", {"text": text})
        part = Part(*(by_time if timed else by_distance), by_time=timed)
        folder = info.context["folder"] if info.context else Path()
        try:
            self._course = read_track(folder / self.file, self.smoothing, part)
        except TrackError as error:
            raise PydanticCustomError("recording", "{faults}", {"faults": tuple(error.faults)}) from None
        return self
