"""From a file or a dict to a `Scenario`, with every fault of it in one error."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import BaseModel

from ullage.errors import Fault, ScenarioError
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.faults import checked
from ullage.scenario.fields import Quantity, quantity_of
from ullage.scenario.limits import Place, places_of, too_large
from ullage.scenario.race import race_pieces
from ullage.scenario.source import Source, read_file, read_toml
from ullage.scenario.toml_text import write_toml
from ullage.scenario.tree import Data, copied, set_value, tree_of, with_units


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
        Where the files that the scenario names are looked for.
    """

    _data: Data
    _source: Source
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
        return _scenario(with_units(ScenarioSpec, tree_of(data)), Source(), Path())

    @classmethod
    def from_toml(cls, text: str, name: str = "", folder: Path = Path()) -> Scenario:
        """Make a scenario from the text of a scenario file.

        Parameters
        ----------
        text : str
            TOML text.
        name : str
            Name of the file, for the faults.
        folder : Path
            Where the files that it names are looked for.

        Returns
        -------
        Scenario
            The checked scenario.

        Raises
        ------
        ScenarioError
            With every fault found, each with its line.
        """
        return _scenario(*read_toml(text, name), folder)

    def to_toml(self) -> str:
        """Return the scenario as the text of a scenario file."""
        return write_toml(self._data)

    def to_dict(self) -> Data:
        """Return the scenario as nested dicts and lists, values as they were written; a copy."""
        tree: Data = copied(self._data)
        return tree

    def replace(self, changes: Mapping[str, Any], *, bare_numbers: bool = True, name: str = "") -> Scenario:
        """Make another scenario with some values changed.

        Parameters
        ----------
        changes : mapping
            New values by dotted key; an element of an array of tables is addressed by its name or its number.
        bare_numbers : bool
            Whether a number without a unit is SI; otherwise it is a fault, as in a file.
        name : str
            What the changes are called in a fault, in place of the file and the line.

        Returns
        -------
        Scenario
            The checked scenario.

        Raises
        ------
        ScenarioError
            If keys or values cannot be used.
        """
        data = copied(self._data)
        places: list[Place] = []
        faults: list[Fault] = []
        for path, value in tree_of(changes, name).items():
            try:
                places.append(set_value(data, path, value))
            except ScenarioError as error:
                faults += [fault._replace(file=name) for fault in error.faults]
        source = self._source.changed(places, name)
        if found := too_large(places_of(data)):
            faults.append(source.fault(*found))
        if faults:
            raise ScenarioError(faults)
        return _scenario(with_units(ScenarioSpec, data) if bare_numbers else data, source, self.folder)

    @property
    def stops(self) -> tuple[str, ...]:
        """Names of the stops, in the order of the race."""
        return tuple(stop.name for stop in race_pieces(self.spec)[1])

    @property
    def hash(self) -> str:
        """Hash of the scenario's text and of the files that it reads, 16 hexadecimal digits."""
        text = "".join([self.to_toml(), *self.spec.digests])
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def quantities(self) -> Iterator[Key]:
        """Go through every quantity of the scenario with its accepted range."""
        return _quantities(self.spec, "")


def a_scenario(given: object) -> Scenario:
    """Return a scenario that was given, or raise `TypeError` with a sentence if it is something else."""
    if not isinstance(given, Scenario):
        raise TypeError(f"{given!r:.60} is no scenario: ul.load_scenario reads one from a file")
    return given


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
    return Scenario.from_toml(read_file(path), str(path), Path(path).parent)


def _scenario(data: Data, source: Source, folder: Path) -> Scenario:
    return Scenario(data, source, checked(data, source, folder), folder)


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
