"""A lap as a scenario describes it: a table of segments, or a recording."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Self

from pydantic import Field, PrivateAttr, ValidationInfo, field_validator, model_validator
from pydantic_core import PydanticCustomError

from ullage.duty.recording import TIME, Column, Recording, RecordingError, read_recording
from ullage.hints import did_you_mean_unit, wanted
from ullage.scenario.fields import Spec, quantity, quantity_of
from ullage.units import KINDS, UnitError, factor


class Segment(Spec):
    """A stretch of the lap: constant values or means with spreads; elevation runs evenly to its end value."""

    name: str = Field(default="", description="name of the stretch")
    length: float | None = quantity("length", "1 m", "500 km", None, "length; else give the duration")
    duration: float | None = quantity("time", "0.1 s", "24 h", None, "duration; else give the length")
    vehicle_speed: float = quantity("speed", "0 km/h", "250 km/h", "0 km/h", "vehicle speed")
    vehicle_speed_spread: float = quantity("speed", "0 km/h", "70 km/h", "0 km/h", "its standard deviation")
    engine_speed: float = quantity("rotation", "0 rpm", "10000 rpm", "required", "engine speed")
    engine_speed_spread: float = quantity("rotation", "0 rpm", "2000 rpm", "0 rpm", "its standard deviation")
    steering_load: float = quantity("pressure difference", "0 bar", "250 bar", "0 bar", "pressure for the ram")
    steering_load_spread: float = quantity("pressure difference", "0 bar", "90 bar", "0 bar", "its standard deviation")
    steering_load_peak: float | None = quantity(
        "pressure difference", "0 bar", "250 bar", None, "what pulses of the load stay below"
    )
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

    @property
    def varies(self) -> bool:
        """Whether the channels are drawn about their means."""
        return max(self.vehicle_speed_spread, self.engine_speed_spread, self.steering_load_spread) > 0.0


class RecordedColumn(Spec):
    """A column of a recording: its header and its unit."""

    column: str = Field(description="header of the column")
    unit: str = Field(description="unit of its numbers")


class LapRecording(Spec):
    """A recorded lap in place of segments: a comma-separated file, and which column is what."""

    file: str = Field(description="name of the file, from the folder of the scenario")
    time: RecordedColumn
    engine_speed: RecordedColumn
    vehicle_speed: RecordedColumn | None = None
    steering_load: RecordedColumn | None = None
    forward_acceleration: RecordedColumn | None = None
    left_acceleration: RecordedColumn | None = None
    upward_acceleration: RecordedColumn | None = None
    elevation: RecordedColumn | None = None
    _lap: Recording = PrivateAttr()

    @property
    def lap(self) -> Recording:
        """What the file holds."""
        return self._lap

    @field_validator("*")
    @classmethod
    def _check_unit(cls, value: object, info: ValidationInfo) -> object:
        if isinstance(value, RecordedColumn):
            _wanted(str(info.field_name), value)
        return value

    @model_validator(mode="after")
    def _read_file(self, info: ValidationInfo) -> Self:
        mapped = {name: getattr(self, name) for name in type(self).model_fields if name != "file"}
        columns = {name: _wanted(name, column) for name, column in mapped.items() if column is not None}
        folder = info.context["folder"] if info.context else Path()
        try:
            self._lap = read_recording(folder / self.file, columns)
        except RecordingError as error:
            raise PydanticCustomError("recording", "{faults}", {"faults": tuple(error.faults)}) from None
        return self


def _wanted(name: str, column: RecordedColumn) -> Column:
    """Return what is accepted in a column: any time, else what a segment accepts."""
    accepted = None if name == TIME else quantity_of(Segment, name)
    kind = accepted.kind if accepted else TIME
    try:
        step = factor(column.unit, KINDS[kind].unit)
    except UnitError as error:
        text = f"{error}{did_you_mean_unit(column.unit, kind)}; {wanted(kind)}"
        raise PydanticCustomError("unit", "{text}", {"text": text}) from None
    if accepted is None:
        return Column(column.column, column.unit, step, -math.inf, math.inf, "")
    low, high = accepted.limits()
    slack = 1e-9 * max(abs(low), abs(high))
    return Column(column.column, column.unit, step, low - slack, high + slack, f"{accepted.low} to {accepted.high}")
