"""A recorded lap as a scenario describes it: a file, and which of its columns is what."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Self

from pydantic import Field, PrivateAttr, ValidationInfo, field_validator, model_validator
from pydantic_core import PydanticCustomError

from ullage.duty.recording import TIME, Column, Recording, RecordingError, read_recording
from ullage.hints import did_you_mean_unit, wanted
from ullage.scenario.fields import Spec, quantity_of
from ullage.scenario.lap_spec import Segment
from ullage.units import KINDS, UnitError, factor


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
        return Column(column.column, column.unit, step, 0.0, -math.inf, math.inf, "")
    low, high = accepted.limits()
    slack = 1e-9 * max(abs(low), abs(high))
    return Column(
        column.column, column.unit, step, 0.0, low - slack, high + slack, f"{accepted.low} to {accepted.high}"
    )
