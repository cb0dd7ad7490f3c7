"""Logs as a scenario describes them: a file, how it is written, and which of its columns is what."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import ClassVar, Self

from pydantic import Field, PrivateAttr, ValidationInfo, ValidatorFunctionWrapHandler, field_validator, model_validator
from pydantic_core import PydanticCustomError

from ullage.duty.log_columns import TIME, Wanted, taken_off, unit_named
from ullage.duty.log_faults import RecordingError
from ullage.duty.recording import Form, Recording, read_recording
from ullage.errors import quoted
from ullage.scenario.fields import Quantity, Spec, quantity, quantity_of
from ullage.scenario.lap_spec import Segment
from ullage.units import UnitError

_MOST_COLUMNS = 65_536


class RecordedColumn(Spec):
    """A column of a log: its header, or its number from 1, and its unit."""

    column: str | int = Field(description="header of the column, or its number from 1")
    unit: str = Field(default="", description="unit of its numbers, if the file does not say it")
    less: str = Field(default="", description="what is taken off every number, such as `1 gn` or `7 bar`")

    @field_validator("column", mode="wrap")
    @classmethod
    def _check_column(cls, value: object, inner: ValidatorFunctionWrapHandler) -> str | int:
        is_number = isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= _MOST_COLUMNS
        if is_number or (isinstance(value, str) and value.strip()):
            checked: str | int = inner(value)
            return checked
        text = f"{quoted(value)} is no column: give its header, or its number from 1"
        raise PydanticCustomError("sentence", "{text}", {"text": text})


class LogFile(Spec):
    """A file that a logger wrote: rows of numbers, one column a channel."""

    file: str = Field(description="name of the file, from the folder of the scenario")
    delimiter: str = Field(
        default="", description="mark between columns, or `tab` or `space`, if it is not found by itself"
    )
    sample_rate: float | None = quantity("frequency", "0.1 Hz", "10 kHz", None, "rows a second, in place of `time`")
    begin: float | None = quantity("time", "0 s", "48 h", None, "start of the part that is used, from the first row")
    end: float | None = quantity("time", "0.1 s", "48 h", None, "end of the part that is used, from the first row")
    longest_gap: float = quantity("time", "0 s", "10 min", "10 s", "what may be filled with a straight line")
    time: RecordedColumn | None = Field(default=None, validate_default=True)
    filled: ClassVar[bool] = True  # whether what is missing is filled, as a march needs it
    _log: Recording = PrivateAttr()

    @classmethod
    def recorded(cls) -> Mapping[str, Quantity]:
        """Return which fields are columns, beside the time, and what each accepts."""
        return {}

    @property
    def log(self) -> Recording:
        """What the file holds."""
        return self._log

    @field_validator("delimiter")
    @classmethod
    def _check_delimiter(cls, value: str) -> str:
        if value not in ("", "tab", "space") and (
            len(value) != 1 or not value.isascii() or value.isalnum() or value in '".+-_ '
        ):
            text = f'{quoted(value)} is no mark between columns: give one sign, such as ";", or "tab" or "space"'
            raise PydanticCustomError("sentence", "{text}", {"text": text})
        return value

    @field_validator("end")
    @classmethod
    def _check_end(cls, value: float | None, info: ValidationInfo) -> float | None:
        if value is not None and value <= (info.data.get("begin") or 0.0):
            raise PydanticCustomError(
                "sentence", "{text}", {"text": "is not after begin: the part that is used is empty"}
            )
        return value

    @field_validator("time")
    @classmethod
    def _check_clock(cls, value: RecordedColumn | None, info: ValidationInfo) -> RecordedColumn | None:
        rate = info.data.get("sample_rate")
        if value is None and rate is None:
            text = "missing: give the column that holds the time, or sample_rate in its place"
            raise PydanticCustomError("sentence", "{text}", {"text": text})
        if value is not None and rate is not None:
            raise PydanticCustomError("sentence", "{text}", {"text": "stands beside sample_rate; give one of the two"})
        return value

    @field_validator("*")
    @classmethod
    def _check_unit(cls, value: object, info: ValidationInfo) -> object:
        name = str(info.field_name)
        if isinstance(value, RecordedColumn):
            kind = TIME if name == TIME else cls.recorded()[name].kind
            try:
                if value.unit:
                    unit_named(value.unit, kind)
                taken_off(value.less, kind)
            except UnitError as error:
                raise PydanticCustomError("unit", "{text}", {"text": str(error)}) from None
        return value

    @model_validator(mode="after")
    def _read_file(self, info: ValidationInfo) -> Self:
        wanted = {} if self.time is None else {TIME: Wanted(self.time.column, self.time.unit, TIME)}
        for name, accepted in self.recorded().items():
            column: RecordedColumn | None = getattr(self, name)
            if column is not None:
                less = taken_off(column.less, accepted.kind)
                wanted[name] = Wanted(column.column, column.unit, accepted.kind, accepted.low, accepted.high, less)
        folder = info.context["folder"] if info.context else Path()
        form = Form(self.delimiter, self.sample_rate, self.begin, self.end, self.longest_gap, self.filled)
        try:
            self._log = read_recording(folder / self.file, wanted, form)
        except RecordingError as error:
            raise PydanticCustomError("recording", "{faults}", {"faults": tuple(error.faults)}) from None
        return self


class LapRecording(LogFile):
    """A recorded lap in place of segments: what a logger wrote, and which column is what."""

    engine_speed: RecordedColumn
    vehicle_speed: RecordedColumn | None = None
    steering_load: RecordedColumn | None = None
    forward_acceleration: RecordedColumn | None = None
    left_acceleration: RecordedColumn | None = None
    upward_acceleration: RecordedColumn | None = None
    elevation: RecordedColumn | None = None

    @classmethod
    def recorded(cls) -> Mapping[str, Quantity]:
        """Return which fields are columns: each accepts what the same key of a segment does."""
        names = [name for name in cls.model_fields if name not in LogFile.model_fields]
        return {name: accepted for name in names if (accepted := quantity_of(Segment, name))}
