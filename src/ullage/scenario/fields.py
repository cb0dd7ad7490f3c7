"""Fields of a specification: a quantity knows its kind, its accepted range and whether its default is weak."""

from __future__ import annotations

import functools
import math
import sys
import typing
import unicodedata
from collections.abc import Mapping
from typing import Any, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator
from pydantic_core import PydanticCustomError

from ullage.errors import quoted
from ullage.hints import wanted
from ullage.scenario.ranges import range_in_unit_of
from ullage.units import UnitError, is_gauge, parse


class Quantity(NamedTuple):
    """What a field accepts: kind, limits as written, default as written, and whether the default is weak.

    A weak default is uncertain by a factor of two or more; `check` prints it as assumed. `sign` says what is
    positive where that is not plain.
    """

    kind: str
    low: str
    high: str
    default: str | None
    weak: bool
    help: str
    sign: str = ""

    def limits(self) -> tuple[float, float]:
        """Return the accepted range in SI units."""
        return _limits_of(self.low, self.high, self.kind)

    def absolute_limits(self) -> tuple[float, float]:
        """Return the accepted range of a pressure level as absolute pressures at standard ambient pressure [Pa]."""
        low, high = self.limits()
        return low + _STANDARD_AMBIENT, high + _STANDARD_AMBIENT


@functools.cache
def _limits_of(low: str, high: str, kind: str) -> tuple[float, float]:
    return parse(low, kind), parse(high, kind)


class Level(NamedTuple):
    """A pressure level [Pa]: absolute, or above the ambient pressure of the moment."""

    pascal: float
    gauge: bool

    def absolute(self, ambient: float) -> float:
        """Return the absolute pressure [Pa] at an ambient pressure [Pa]."""
        return self.pascal + ambient if self.gauge else self.pascal

    def over(self, ambient: float) -> float:
        """Return the gauge pressure [Pa] at an ambient pressure [Pa]."""
        return self.pascal if self.gauge else self.pascal - ambient


REQUIRED = "required"
_STANDARD_AMBIENT = 101325.0
_LONGEST_TEXT = 200
_LARGEST = sys.float_info.max


def quantity(
    kind: str, low: str, high: str, default: str | None, help: str, *, weak: bool = False, sign: str = ""
) -> Any:
    """Declare a field that is read from text with a unit.

    Parameters
    ----------
    kind : str
        Name in `ullage.units.KINDS`.
    low, high : str
        Accepted range, limits included.
    default : str or None
        Value if the key is absent; "required" if there is none; None for a key that may stay out.
    help : str
        What the quantity is.
    weak : bool
        Whether the default is uncertain by a factor of two or more.
    sign : str
        What is positive, where values of both signs are accepted.

    Returns
    -------
    pydantic field
        For use as a class attribute of a `Spec`.
    """
    spec = Quantity(kind, low, high, default, weak, help, sign)
    extra: Any = {"quantity": spec}
    if default == REQUIRED:
        return Field(description=help, json_schema_extra=extra)
    if default is None:
        return Field(default=None, description=help, json_schema_extra=extra)
    return Field(default_factory=lambda: _value(default, kind), description=help, json_schema_extra=extra)


@functools.lru_cache(maxsize=4096)
def _value(text: str, kind: str) -> float | Level:
    if kind == "pressure level":
        return Level(parse(text, kind), is_gauge(text))
    return parse(text, kind)


@functools.cache
def quantity_of(model: type[BaseModel], name: str) -> Quantity | None:
    """Return what a field of a specification accepts, or None if it is not a quantity."""
    extra = model.model_fields[name].json_schema_extra
    return extra.get("quantity") if isinstance(extra, dict) else None  # type: ignore[return-value]


def quantity_of_key(model: type[BaseModel], key: str) -> Quantity | None:
    """Return what a dotted key accepts, counted from a specification; None if it is no quantity or no key."""
    *tables, last = key.split(".")
    inner: type[BaseModel] | None = model
    for part in tables:
        # the name or number of an element of an array is no field
        inner = nested_spec(inner, part) or inner if inner else None
    return quantity_of(inner, last) if inner and last in inner.model_fields else None


@functools.cache
def nested_spec(model: type[BaseModel], name: str) -> type[Spec] | None:
    """Return the specification that a field of a specification holds, in a tuple or not, or None."""
    if name not in model.model_fields:
        return None
    waiting: list[Any] = [model.model_fields[name].annotation]
    while waiting:
        kind = waiting.pop()
        if isinstance(kind, type) and issubclass(kind, Spec):
            return kind
        waiting.extend(typing.get_args(kind))
    return None


class Spec(BaseModel):
    """Base of all specifications: frozen, no unknown keys, quantities read once, text on one line."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    @classmethod
    def accepted(cls, name: str, _before: Mapping[str, Any], /) -> Quantity | None:
        """Return what a key accepts beside the keys that are declared before it; None if it is not a quantity."""
        return quantity_of(cls, name)

    @field_validator("*", mode="before")
    @classmethod
    def _read_quantity(cls, value: Any, info: ValidationInfo) -> Any:
        spec = cls.accepted(str(info.field_name), info.data)
        try:
            if spec is None:
                return _plain_text(value)
            if value is None or isinstance(value, Level):
                return value
            return read_quantity(value, spec, from_file=bool(info.context and info.context.get("file")))
        except OutOfRangeError as error:
            raise PydanticCustomError("range", "{text}", {"text": str(error)}) from None
        except UnitError as error:
            raise PydanticCustomError("unit", "{text}", {"text": str(error)}) from None


class OutOfRangeError(UnitError):
    """A quantity that is outside what its key accepts."""


def read_quantity(value: Any, spec: Quantity, *, from_file: bool) -> float | Level:
    """Read a value of a quantity and hold it against its limits; one that is outside by rounding is the limit.

    Parameters
    ----------
    value : object
        Text with a unit, or a number.
    spec : Quantity
        What the key accepts.
    from_file : bool
        Whether a number without a unit is a fault, as in a file.

    Returns
    -------
    float or Level
        SI value.

    Raises
    ------
    UnitError
        If it cannot be read; `OutOfRangeError` if it is outside the limits.
    """
    read = _read(value, spec, from_file=from_file)
    number = read.over(_STANDARD_AMBIENT) if isinstance(read, Level) else read
    low, high = spec.limits()
    slack = 1e-9 * max(abs(low), abs(high))
    if not low - slack <= number <= high + slack:
        raise OutOfRangeError(f"{quoted(value)} is outside {_limits(value, read, spec)}")
    within = min(max(number, low), high)
    if within == number:
        return read
    return read._replace(pascal=read.pascal + within - number) if isinstance(read, Level) else within


def _plain_text(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    if len(value) > _LONGEST_TEXT:
        raise UnitError(f"{quoted(value)} is longer than {_LONGEST_TEXT} signs")
    for sign in value:
        if unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp"):
            raise UnitError(f"{quoted(value)} holds a control character, U+{ord(sign):04X}: write one plain line")
    return value


def _read(value: Any, spec: Quantity, *, from_file: bool) -> float | Level:
    if isinstance(value, str):
        return _value(value, spec.kind)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UnitError(f"{quoted(value)} is not text with a unit; {wanted(spec.kind)}")
    if abs(value) > _LARGEST or not math.isfinite(value):
        raise UnitError(f"{quoted(value)} is not a finite number")
    if from_file and spec.kind != "number":
        raise UnitError(f"{quoted(value)} has no unit; {wanted(spec.kind)}")
    return Level(float(value), gauge=False) if spec.kind == "pressure level" else float(value)


def _limits(value: Any, read: float | Level, spec: Quantity) -> str:
    absolute = isinstance(read, Level) and not read.gauge
    low, high = spec.absolute_limits() if absolute else spec.limits()
    shown = range_in_unit_of(value, low, high, spec.kind) if isinstance(value, str) else ""
    return shown or f"{spec.low} to {spec.high}"
