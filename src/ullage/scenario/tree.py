"""A scenario as nested dicts and lists: from values of Python, and with some values changed."""

from __future__ import annotations

import numbers
import re
import sys
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from ullage.errors import Fault, ScenarioError, quoted
from ullage.scenario.fields import nested_spec, quantity_of
from ullage.scenario.limits import Place, places_of, too_large
from ullage.scenario.source import LONE_SURROGATE, Source
from ullage.scenario.syntax import key_text
from ullage.units import KINDS

Data = dict[str, Any]

_SI_TEXT = {"pressure level": "Pa abs", "number": ""}


def tree_of(data: Any, name: str = "") -> Data:
    """Return data from Python as a tree of dicts, lists and plain values; what was given is left alone.

    Parameters
    ----------
    data : mapping
        Nested mappings, lists and tuples.
    name : str
        What the data are called in a fault.

    Returns
    -------
    dict
        The tree.

    Raises
    ------
    ScenarioError
        If it is no mapping, is too large, or has a key that is not text.
    """
    if not isinstance(data, Mapping):
        raise ScenarioError([Fault(name, None, "", f"a mapping of keys and values is wanted, got {quoted(data)}")])
    if found := too_large(places_of(data)):
        raise ScenarioError([Source(name).fault(*found)])
    tree: Data = _plain(data)
    return tree


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        for key in value:
            if not isinstance(key, str) or LONE_SURROGATE.search(key):
                raise ScenarioError([Fault("", None, "", f"a key must be text, got {quoted(key)}")])
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, bool) or not isinstance(value, str | numbers.Real):
        return value
    if isinstance(value, numbers.Integral):
        return int(value)
    return str(value) if isinstance(value, str) else float(value)


def copied(tree: Any) -> Any:
    """Return a copy of a tree, or of a part of it."""
    if isinstance(tree, dict):
        return {key: copied(value) for key, value in tree.items()}
    return [copied(value) for value in tree] if isinstance(tree, list) else tree


def with_units(model: type[BaseModel], data: Any) -> Any:
    """Write the SI numbers of a tree as text with their unit, so that data and files take the same way.

    Parameters
    ----------
    model : type
        Specification of the tree.
    data : dict or list
        The tree; it is changed. Keys without a value go.

    Returns
    -------
    dict or list
        The tree.
    """
    if isinstance(data, list):
        return [with_units(model, item) for item in data]
    if not isinstance(data, dict):
        return data
    for name, value in [*data.items()]:
        if value is None:
            del data[name]
        elif inner := nested_spec(model, name):
            data[name] = with_units(inner, value)
        elif name in model.model_fields and (quantity := quantity_of(model, name)):
            data[name] = _with_unit(value, _SI_TEXT.get(quantity.kind, KINDS[quantity.kind].unit))
    return data


def _with_unit(value: Any, unit: str) -> Any:
    if not unit or isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return f"{float(value)!r} {unit}" if abs(value) <= sys.float_info.max else value


def set_value(data: Data, path: str, value: Any) -> Place:
    """Set or, with None, remove a value of a tree.

    Parameters
    ----------
    data : dict
        The tree; it is changed.
    path : str
        Dotted key; an element of an array of tables is addressed by its name or its number.
    value : object
        The value.

    Returns
    -------
    tuple
        The place of the value.

    Raises
    ------
    ScenarioError
        If there is no such place.
    """
    here: Any = data
    place: Place = ()
    *tables, last = path.split(".")
    for part in tables:
        step = _element(here, part, path) if isinstance(here, list) else part
        place = (*place, step)
        if isinstance(here, dict):
            here = here.setdefault(part, {})
        elif isinstance(here, list):
            here = here[int(step)]
    if not isinstance(here, dict):
        raise ScenarioError([Fault("", None, key_text(tuple(path.split("."))), "no such key")])
    if value is None:
        here.pop(last, None)
    else:
        here[last] = value
    return (*place, last)


def _element(items: list[Any], part: str, path: str) -> int:
    names = [item.get("name") if isinstance(item, dict) else None for item in items]
    if part in names:
        return names.index(part)
    if re.fullmatch("[0-9]{1,6}", part) and int(part) < len(items):
        return int(part)
    there = ", ".join(name if isinstance(name, str) else str(place) for place, name in enumerate(names))
    key = key_text(tuple(path.split(".")))
    raise ScenarioError([Fault("", None, key, f"no element {quoted(part)}; there are: {there}")])
