"""Values of a study held against the schema of the scenario: one by one, and as columns of the results."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from typing import NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from ullage.errors import ScenarioError
from ullage.results.display import DIFFERENCE
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.faults import checked_as
from ullage.scenario.fields import Level, Quantity, quantity_of_key, read_quantity
from ullage.scenario.load import Scenario
from ullage.scenario.source import Source
from ullage.scenario.syntax import key_text
from ullage.scenario.tree import set_value
from ullage.study.axes import Row, Value
from ullage.units import KINDS, UnitError, is_gauge

Wrong = tuple[str, str]

_MOST_WHOLE = 2**63 - 1


class Column(NamedTuple):
    """Values of a key over members: SI numbers or whole numbers; the text as written; attributes.

    `plain` says that the key takes text: its values are the texts, and the numbers mean nothing.
    """

    values: NDArray[np.float64] | NDArray[np.int64]
    texts: NDArray[np.bytes_]
    attributes: dict[str, str]
    plain: bool


def key_faults(base: Scenario, keys: Sequence[str], row: Row) -> list[Wrong]:
    """Return what is wrong with keys whatever their values are: a scenario has none such, or this one has none there.

    Parameters
    ----------
    base : Scenario
        The scenario in which they are changed.
    keys : sequence of str
        Dotted keys.
    row : tuple
        A value of each.

    Returns
    -------
    list of tuple
        Key and sentence.
    """
    found, places = _set_faults(base, keys, row)
    return [(key, text) for key, text in found if key not in places or text.startswith("unknown key")]


def _set_faults(base: Scenario, keys: Sequence[str], row: Row) -> tuple[list[Wrong], list[str]]:
    """Return what is wrong with values on their own, whatever other keys say, and the places of the values."""
    data, places = base.to_dict(), []
    try:
        for key, value in zip(keys, row, strict=True):
            places.append(key_text(set_value(data, key, value)))
        checked_as(ScenarioSpec, data, Source(), base.folder)
    except ScenarioError as error:
        return [(fault.key, fault.text) for fault in error.faults], places
    return [], places


def value_faults(base: Scenario, keys: Sequence[str], rows: Sequence[Row]) -> Iterator[tuple[int, str, str]]:
    """Go through values that their keys do not accept.

    Parameters
    ----------
    base : Scenario
        The scenario in which they are changed.
    keys : sequence of str
        Dotted keys that exist.
    rows : sequence of tuple
        Values of each.

    Yields
    ------
    tuple
        Index of the row, key, sentence.
    """
    plain = [place for place, key in enumerate(keys) if quantity_of_key(ScenarioSpec, key) is None]
    said: dict[str, list[Wrong]] = {}
    for index, row in enumerate(rows):
        for place, key in enumerate(keys):
            if place not in plain and (text := _quantity_fault(key, row[place])):
                yield index, key, text
        values = tuple(row[place] for place in plain)
        for place in plain:
            value = row[place]
            if isinstance(value, int) and abs(value) > _MOST_WHOLE:
                yield index, keys[place], "is too large a whole number for the results"
        together = repr(values)  # tells 1 from true
        if plain and together not in said:
            said[together] = _set_faults(base, [keys[place] for place in plain], values)[0]
        yield from ((index, key, text) for key, text in said.get(together, []))


@functools.lru_cache(maxsize=4096, typed=True)
def _quantity_fault(key: str, value: Value) -> str:
    quantity = quantity_of_key(ScenarioSpec, key)
    try:
        read_quantity(value, cast("Quantity", quantity), from_file=True)
    except UnitError as error:
        return str(error)
    return ""


def column(key: str, values: Sequence[Value]) -> Column:
    """Return the values of a key over members as the results hold them.

    Parameters
    ----------
    key : str
        Dotted key that varies.
    values : sequence
        Its values as written; gauge and absolute levels are not mixed.

    Returns
    -------
    Column
        SI numbers for a quantity; a gauge level counts from the ambient pressure.
    """
    texts = np.array([str(value).encode() for value in values])
    quantity = quantity_of_key(ScenarioSpec, key)
    if quantity is None:
        whole = all(isinstance(value, int) for value in values)
        numbers = np.array(values if whole else [0] * len(values), dtype=np.int64)
        named = {"long_name": key.replace("_", " ").replace(".", ", "), "key": key}
        return Column(numbers, texts, named, not whole)
    known: dict[Value, float] = {}
    for value in values:
        if value not in known:
            read = read_quantity(value, quantity, from_file=True)
            known[value] = read.pascal if isinstance(read, Level) else read
    attributes = {"long_name": quantity.help, "units": udunits(KINDS[quantity.kind].unit), "key": key}
    attributes["kind"] = quantity.kind
    if quantity.kind == "pressure level":
        attributes["pressure_reference"] = "ambient" if is_gauge(str(values[0])) else "absolute"
    if quantity.kind == "temperature difference":
        attributes["units_metadata"] = DIFFERENCE
    return Column(np.array([known[value] for value in values]), texts, attributes, plain=False)


def udunits(unit: str) -> str:
    """Write a unit such as `m3/s` the way results do, `m3 s-1`."""
    above, _, below = unit.partition("/")
    plain = above.replace("*", " ")
    if not below:
        return plain
    power = f"{below}-1" if not below[-1].isdigit() else f"{below[:-1]}-{below[-1]}"
    return power if plain == "1" else f"{plain} {power}"
