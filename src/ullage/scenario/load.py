"""From a file or a dict to a `Scenario`, with every fault of it in one error."""

from __future__ import annotations

import copy
import difflib
import hashlib
import re
import tomllib
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import BaseModel, ValidationError

from ullage.errors import ScenarioError
from ullage.scenario.checks import cross_faults
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import Quantity, quantity_of
from ullage.scenario.lines import key_lines, line_of
from ullage.scenario.toml_text import write_toml
from ullage.units import KINDS

Data = dict[str, Any]
Place = tuple[str | int, ...]

_SI_TEXT = {"pressure level": "Pa abs", "number": ""}


class Key(NamedTuple):
    """One key of the schema: its dotted path, what it accepts, and where the value is in a specification."""

    path: str
    quantity: Quantity
    value: Any
    given: bool


@dataclass(frozen=True, eq=False)
class Scenario:
    """A scenario that has passed every check. It cannot be changed; `replace` makes another.

    Attributes
    ----------
    spec : ScenarioSpec
        The values, SI units.
    folder : Path
        Where the files that it names are looked for.
    """

    _data: Data
    spec: ScenarioSpec
    folder: Path

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Scenario:
        """Make a scenario from nested dicts and lists.

        Parameters
        ----------
        data : mapping
            The tree of a scenario file. A number is SI (pressure levels absolute), text carries its unit.

        Returns
        -------
        Scenario
            The checked scenario.

        Raises
        ------
        ScenarioError
            With every fault found.
        """
        return _checked(_with_units(ScenarioSpec, copy.deepcopy(dict(data))), "", {}, Path())

    @classmethod
    def from_toml(cls, text: str, name: str = "") -> Scenario:
        """Make a scenario from the text of a scenario file.

        Parameters
        ----------
        text : str
            TOML text.
        name : str
            Name of the file, for the faults.

        Returns
        -------
        Scenario
            The checked scenario.

        Raises
        ------
        ScenarioError
            With every fault found, each with its line.
        """
        return _parsed(text, name, Path())

    def to_toml(self) -> str:
        """Return the scenario as the text of a scenario file."""
        return write_toml(self._data)

    def replace(self, changes: Mapping[str, Any], *, bare_numbers: bool = True) -> Scenario:
        """Make another scenario with some values changed.

        Parameters
        ----------
        changes : mapping
            New values by dotted key; an element of an array of tables is addressed by its name or its number.
        bare_numbers : bool
            Whether a number without a unit is SI; otherwise it is a fault, as in a file.

        Returns
        -------
        Scenario
            The checked scenario.

        Raises
        ------
        ScenarioError
            If a key or value cannot be used.
        """
        data = copy.deepcopy(self._data)
        for path, value in changes.items():
            _set(data, path, value)
        return _checked(_with_units(ScenarioSpec, data) if bare_numbers else data, "", {}, self.folder)

    @property
    def stops(self) -> tuple[str, ...]:
        """Names of the stops, in the order of the race."""
        ordered = sorted(self.spec.duty.stop, key=lambda stop: stop.after_lap)
        return tuple(stop.name for stop in ordered)

    @property
    def hash(self) -> str:
        """Hash of the scenario's text and of the file that it reads, 16 hexadecimal digits."""
        recording = self.spec.duty.recording
        text = self.to_toml() + (recording.lap.digest if recording else "")
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def quantities(self) -> Iterator[Key]:
        """Go through every quantity of the scenario with its accepted range."""
        return _quantities(self.spec, "")


def load_scenario(path: str | Path) -> Scenario:
    """Read a scenario file.

    Parameters
    ----------
    path : str or Path
        A TOML file.

    Returns
    -------
    Scenario
        The checked scenario.

    Raises
    ------
    ScenarioError
        If the file cannot be read, or with every fault found in it.
    """
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ScenarioError([f"{path}: cannot be read: {error}"]) from None
    return _parsed(text, str(path), Path(path).parent)


def _parsed(text: str, name: str, folder: Path) -> Scenario:
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ScenarioError([f"{name or 'scenario'}: not a TOML file: {error}"]) from None
    return _checked(data, name, key_lines(text), folder)


def _checked(data: Data, name: str, lines: Mapping[Place, int], folder: Path) -> Scenario:
    try:
        spec = ScenarioSpec.model_validate(data, context={"file": True, "folder": folder})
    except ValidationError as error:
        found = [_sentences(fault, name, dict(lines)) for fault in error.errors()]
        raise ScenarioError([sentence for sentences in found for sentence in sentences]) from None
    if faults := cross_faults(spec):
        raise ScenarioError([_located(path, text, name, dict(lines)) for path, text in faults])
    return Scenario(data, spec, folder)


def _sentences(fault: Any, name: str, lines: dict[Place, int]) -> list[str]:
    """Return what a fault says; a recording has faults of its own, each with its line in that file."""
    return fault["ctx"]["faults"] if fault["type"] == "recording" else [_sentence(fault, name, lines)]


def _sentence(fault: Any, name: str, lines: dict[Place, int]) -> str:
    path: Place = tuple(fault["loc"])
    kind = fault["type"]
    if kind == "missing":
        text = "missing"
    elif kind == "extra_forbidden":
        text = "unknown key" + _suggestion(path)
    elif kind in ("unit", "range"):
        text = fault["msg"]
    else:
        text = f"{fault['msg'][0].lower()}{fault['msg'][1:]}, got {fault['input']!r}"[:300]
    return _located(path, text, name, lines)


def _located(path: Place, text: str, name: str, lines: dict[Place, int]) -> str:
    line = line_of(path, lines)
    place = f"{name}:{line}: " if line else (f"{name}: " if name else "")
    return f"{place}{'.'.join(str(part) for part in path)}: {text}"


def _suggestion(path: Place) -> str:
    model: type[BaseModel] | None = ScenarioSpec
    for part in path[:-1]:
        if isinstance(part, str):
            model = nested_spec(model, part) if model else None
    near = difflib.get_close_matches(str(path[-1]), model.model_fields if model else [], n=1)
    return f" (did you mean '{near[0]}'?)" if near else ""


def nested_spec(model: type[BaseModel], name: str) -> type[BaseModel] | None:
    """Return the specification that a field of a specification holds, in a tuple or not, or None."""
    if name not in model.model_fields:
        return None
    waiting: list[Any] = [model.model_fields[name].annotation]
    while waiting:
        kind = waiting.pop()
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            return kind
        waiting.extend(typing.get_args(kind))
    return None


def _with_units(model: type[BaseModel], data: Any) -> Any:
    """Write SI numbers as text with their unit, so that data and files take the same way."""
    if isinstance(data, list | tuple):
        return [_with_units(model, item) for item in data]
    if not isinstance(data, dict):
        return data
    for name, value in [*data.items()]:
        if value is None:
            del data[name]
        elif inner := nested_spec(model, name):
            data[name] = _with_units(inner, value)
        elif name in model.model_fields and (quantity := quantity_of(model, name)):
            unit = _SI_TEXT.get(quantity.kind, KINDS[quantity.kind].unit)
            if unit and isinstance(value, int | float) and not isinstance(value, bool):
                data[name] = f"{float(value)!r} {unit}"
    return data


def _set(data: Data, path: str, value: Any) -> None:
    here: Any = data
    parts = path.split(".")
    for part in parts[:-1]:
        if isinstance(here, list):
            here = _element(here, part, path)
        elif isinstance(here, dict):
            here = here.setdefault(part, {})
    if not isinstance(here, dict):
        raise ScenarioError([f"{path}: no such key"])
    if value is None:
        here.pop(parts[-1], None)
    else:
        here[parts[-1]] = value


def _element(items: list[Any], part: str, path: str) -> Any:
    for item in items:
        if isinstance(item, dict) and item.get("name") == part:
            return item
    if re.fullmatch("[0-9]+", part) and int(part) < len(items):
        return items[int(part)]
    names = ", ".join(str(item.get("name")) for item in items if isinstance(item, dict))
    raise ScenarioError([f"{path}: no element '{part}'; there are: {names}"])


def _quantities(spec: BaseModel, prefix: str) -> Iterator[Key]:
    for name in type(spec).model_fields:
        value = getattr(spec, name)
        if isinstance(value, BaseModel):
            yield from _quantities(value, f"{prefix}{name}.")
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            for place, item in enumerate(value):
                yield from _quantities(item, f"{prefix}{name}.{place}.")
        elif quantity := quantity_of(type(spec), name):
            yield Key(prefix + name, quantity, value, name in spec.model_fields_set)
