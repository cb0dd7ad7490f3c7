"""Every fault of a file at once: each value on its own, then what the keys that are right say together."""

from __future__ import annotations

import copy
import typing
from pathlib import Path
from typing import Any, Generic, NamedTuple, TypeVar

from pydantic import ValidationError

from ullage.errors import Fault, ScenarioError, quoted
from ullage.hints import did_you_mean, nearest_word
from ullage.scenario.checks import Rule, cross_faults
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import REQUIRED, Spec, nested_spec, quantity_of
from ullage.scenario.limits import Place
from ullage.scenario.source import Source
from ullage.scenario.stages import STAGES
from ullage.scenario.syntax import key_text

Data = dict[str, Any]
# tables that read a file; nothing stands in for one that has a fault
_FROM_FILES: tuple[Place, ...] = (("duty", "recording"), ("duty", "track"), ("measured",))
Model = TypeVar("Model", bound=Spec)


class _Wrong(NamedTuple):
    """A value of a file, specified by `root`, that was refused: place, why, the schema's words, value, own faults."""

    root: type[Spec]
    place: Place
    reason: str
    message: str
    value: Any
    within: tuple[Fault, ...] = ()

    @property
    def model(self) -> type[Spec]:
        """The specification of the table in which the value stands."""
        model = self.root
        for name in self.names[:-1]:
            model = nested_spec(model, name) or model
        return model

    @property
    def names(self) -> list[str]:
        """The place without indices."""
        return [part for part in self.place if isinstance(part, str)]


class Examined(NamedTuple, Generic[Model]):
    """What the tree of a file comes to: a specification if one can be made, every fault, and their places."""

    spec: Model | None
    faults: list[Fault]
    places: list[Place]


def checked(data: Data, source: Source, folder: Path) -> ScenarioSpec:
    """Make a specification from the tree of a scenario.

    Parameters
    ----------
    data : dict
        The tree, quantities written as in a file.
    source : Source
        Where its values were written.
    folder : Path
        Where the files that it names are looked for.

    Returns
    -------
    ScenarioSpec
        The specification.

    Raises
    ------
    ScenarioError
        With every fault, in the order of the lines.
    """
    return checked_as(ScenarioSpec, data, source, folder, *STAGES)


def checked_as(model: type[Model], data: Data, source: Source, folder: Path, *stages: list[Rule]) -> Model:
    """Make a specification from the tree of a file.

    Parameters
    ----------
    model : type
        Specification of the whole file.
    data : dict
        The tree, quantities written as in a file.
    source : Source
        Where its values were written.
    folder : Path
        Where the files that it names are looked for.
    *stages : list of Rule
        Rules between keys; those of a later list are not asked about a place where an earlier list found a fault.

    Returns
    -------
    Spec
        The specification.

    Raises
    ------
    ScenarioError
        With every fault, in the order of the lines.
    """
    found = examined(model, data, source, folder, *stages)
    if found.spec is None or found.faults:
        raise ScenarioError(found.faults)
    return found.spec


def examined(model: type[Model], data: Data, source: Source, folder: Path, *stages: list[Rule]) -> Examined[Model]:
    """Make a specification from the tree of a file as `checked_as` does, and go on if there are faults.

    Parameters
    ----------
    model, data, source, folder, *stages
        As for `checked_as`.

    Returns
    -------
    Examined
        The specification, with accepted values in the place of those that are not, if that makes one; every fault, in
        the order of the lines; and the places of the faults.
    """
    spec, wrong = _validated(model, data, folder)
    misspelt = {place for item in wrong if (place := _meant(item)) is not None}
    said = [item for item in wrong if not item.within and (item.reason != "missing" or item.place not in misspelt)]
    found = [(item.place, _sentence(item)) for item in said]
    if wrong:
        spec, _ = _validated(model, _mended(data, wrong), folder)
    if spec is not None:
        faulty = [item.place for item in wrong if item.reason != "extra_forbidden"]
        crossed = cross_faults(spec, [*faulty, *misspelt], *stages)
        found += [(place, _with_value(data, place, text)) for place, text in crossed]
    faults = [*source.faults, *(source.fault(place, text) for place, text in found)]
    faults.sort(key=lambda fault: fault.line or 0)
    faults += [fault for item in wrong for fault in item.within]
    return Examined(spec, faults, [*(place for place, _ in found), *(item.place for item in wrong)])


def context_of(folder: Path) -> dict[str, Any]:
    """Return what validation has to know of a tree that is written as in a file: that, and where its files are."""
    return {"file": True, "folder": folder}


def _validated(model: type[Model], data: Data, folder: Path) -> tuple[Model | None, list[_Wrong]]:
    """Return the specification of a tree, or None and the values that are refused."""
    try:
        return model.model_validate(data, context=context_of(folder)), []
    except ValidationError as error:
        found = [
            _Wrong(
                model,
                tuple(each["loc"]),
                each["type"],
                each["msg"],
                each["input"],
                each.get("ctx", {}).get("faults", ()),
            )
            for each in error.errors()
        ]
        # an array whose elements are refused counts as empty too
        return None, [item for item in found if item.reason != "too_short" or not item.value]


def _meant(item: _Wrong) -> Place | None:
    """Return the place of the key that an unknown key stands for, or None."""
    if item.reason != "extra_forbidden":
        return None
    near = nearest_word(item.names[-1], item.model.model_fields)
    return (*item.place[:-1], near) if near else None


def _with_value(data: Data, place: Place, text: str) -> str:
    """Put the value as written before what is wrong with it, if there is one."""
    value: Any = data
    for part in place:
        value = value.get(part) if isinstance(value, dict) else value[part]
    return text if value is None or isinstance(value, dict | list) else f"{quoted(value)} {text}"


def _sentence(item: _Wrong) -> str:
    if item.reason == "extra_forbidden":
        return "unknown key" + did_you_mean(item.names[-1], item.model.model_fields)
    if item.reason in ("unit", "range", "sentence"):
        return item.message
    wanted = _accepted(item)
    if item.reason == "missing":
        return f"missing: {wanted}"
    if item.reason == "too_short":
        return f"is empty: {wanted}"
    near = did_you_mean(item.value, _choices(item)) if isinstance(item.value, str) else ""
    return f"must be {wanted}, got {quoted(item.value)}{near}"


def _accepted(item: _Wrong) -> str:
    name = item.names[-1]
    quantity = quantity_of(item.model, name)
    if quantity is not None:
        return f"{quantity.help}, {quantity.low} to {quantity.high}"
    if nested_spec(item.model, name):
        key = key_text(tuple(item.names))
        return f"an array of tables, [[{key}]]" if _is_array(item) else f"a table, [{key}]"
    if choices := _choices(item):
        return " or ".join([", ".join(f"'{choice}'" for choice in choices[:-1]), f"'{choices[-1]}'"])
    low, high = _whole_numbers(item)
    if low is None:
        return _plain_kind(item)
    if low == high:
        return f"the number {low}"
    unquoted = ", without quotes" if isinstance(item.value, str) else ""
    return f"a whole number from {low}{f' to {high}' if high is not None else ''}{unquoted}"


def _plain_kind(item: _Wrong) -> str:
    waiting, kinds = [item.model.model_fields[item.names[-1]].annotation], set()
    while waiting:
        kind = waiting.pop()
        kinds.add(typing.get_origin(kind) or kind)
        waiting.extend(typing.get_args(kind))
    if dict in kinds:
        return f"a table, [{key_text(tuple(item.names))}]"
    if tuple in kinds and isinstance(item.place[-1], str):
        return "an array, [...]"
    if bool in kinds:
        return "true or false"
    return "a whole number" if int in kinds else "text in quotes"


def _choices(item: _Wrong) -> list[str]:
    waiting = [item.model.model_fields[item.names[-1]].annotation]
    while waiting:
        kind = waiting.pop()
        if typing.get_origin(kind) is typing.Literal:
            return [str(choice) for choice in typing.get_args(kind)]
        waiting.extend(typing.get_args(kind))
    return []


def _whole_numbers(item: _Wrong) -> tuple[int | None, int | None]:
    limits = item.model.model_fields[item.names[-1]].metadata
    low, high = ([getattr(limit, sign) for limit in limits if hasattr(limit, sign)] for sign in ("ge", "le"))
    return (low[0] if low else None), (high[0] if high else None)


def _is_array(item: _Wrong) -> bool:
    """Return whether an array of tables is wanted at a place, rather than one table or an element of the array."""
    field = item.model.model_fields[item.names[-1]]
    return typing.get_origin(field.annotation) is tuple and isinstance(item.place[-1], str)


def _mended(data: Data, wrong: list[_Wrong]) -> Data:
    """Return a copy of a tree in which accepted values stand in for those that were refused."""
    whole = copy.deepcopy(data)
    for item in wrong:
        read = next((table for table in _FROM_FILES if item.place[: len(table)] == table), None)
        *tables, last = read or item.place
        table: Any = whole
        for part in tables:
            table = table[part]
        if read or item.reason == "extra_forbidden":
            table.pop(last, None)
        else:
            table[last] = _stand_in(item, table)
    return whole


def _stand_in(item: _Wrong, beside: Any) -> Any:
    """Return an accepted value for a place beside the other values of its table."""
    name = item.names[-1]
    if quantity := item.model.accepted(name, beside):
        return quantity.low if quantity.default in (None, REQUIRED) else quantity.default
    if inner := nested_spec(item.model, name):
        fields = [field for field, info in inner.model_fields.items() if info.is_required()]
        table = {field: _stand_in(_Wrong(item.root, (*item.names, field), "", "", None), {}) for field in fields}
        return [table] if _is_array(item) else table
    if choices := _choices(item):
        return choices[0]
    if _plain_kind(item) == "true or false":
        return False
    low, _ = _whole_numbers(item)
    return "stand-in" if low is None else low
