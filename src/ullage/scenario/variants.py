"""Many scenarios that differ from one in the values of a few keys, without checking again what stays as it was."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Sequence
from typing import Any

from pydantic import TypeAdapter, ValidationError

from ullage.errors import ScenarioError
from ullage.scenario.checks import Rule
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.faults import context_of
from ullage.scenario.limits import Place, places_of, too_large
from ullage.scenario.load import Scenario
from ullage.scenario.stages import STAGES
from ullage.scenario.tree import copied, set_value

Value = str | int | float | bool
Changes = dict[str, Value]

_KEPT_TABLES = 512
_PLAIN = {str, int, float, bool}


class Variants:
    """The scenarios that come from one by other values of some keys.

    Parameters
    ----------
    scenario : Scenario
        The scenario that they come from.
    keys : sequence of str
        Dotted keys as `Scenario.replace` takes them.

    Notes
    -----
    Of a variant only the tables that hold one of the keys are read, and only the rules that read one of the keys are
    asked: the scenario itself has passed them all. Tables are kept by their values for the variants that follow.
    """

    def __init__(self, scenario: Scenario, keys: Sequence[str]) -> None:
        self._scenario = scenario
        self._keys = tuple(keys)
        self._context = context_of(scenario.folder)
        data = scenario.to_dict()
        parts = [tuple(key.split(".")) for key in self._keys]
        places = (part[:end] for part in parts for end in range(1, len(part) + 1))
        # keys that are no table's, and trees that the keys may make too large, are left to `Scenario.replace`
        self._in_tables = all(len(part) > 1 and part[0] in ScenarioSpec.model_fields for part in parts)
        self._in_tables &= too_large(itertools.chain(places_of(data), places)) is None
        self._keys_of = {name: [key for key in self._keys if key.startswith(f"{name}.")] for name, *_ in parts}
        self._trees = {name: {name: data[name]} if name in data else {} for name in self._keys_of}
        self._tables: dict[tuple[str, str], tuple[Any, tuple[Place, ...]]] = {}

    def spec(self, values: Sequence[Value], name: str = "") -> ScenarioSpec:
        """Return the specification of a variant.

        Parameters
        ----------
        values : sequence of str, int, float or bool
            A value for each key, written as in a file.
        name : str
            What the values are called in a fault.

        Returns
        -------
        ScenarioSpec
            That of `Scenario.replace`.

        Raises
        ------
        ScenarioError
            That of `Scenario.replace`, if the values cannot be used.
        """
        changes = dict(zip(self._keys, values, strict=True))
        found = self._checked(changes) if self._in_tables and {*map(type, values)} <= _PLAIN else None
        return found or self._scenario.replace(changes, bare_numbers=False, name=name).spec

    def _checked(self, changes: Changes) -> ScenarioSpec | None:
        """Return the specification, or None if something is wrong with it."""
        tables: dict[str, Any] = {}
        changed: tuple[Place, ...] = ()
        try:
            for name in self._trees:
                tables[name], places = self._table(name, changes)
                changed += places
        except (ScenarioError, ValidationError):
            return None
        spec = self._scenario.spec.model_copy(update=tables)
        passes = all(next(iter(rule.find(spec)), None) is None for rule in _rules_on(changed))
        return spec if passes else None

    def _table(self, name: str, changes: Changes) -> tuple[Any, tuple[Place, ...]]:
        """Return a table of the scenario with its changes, and their places."""
        own = [(key, changes[key]) for key in self._keys_of[name]]
        values = name, repr(own)  # tells 1 from 1.0 and from True
        if kept := self._tables.get(values):
            return kept
        tree = copied(self._trees[name])
        places = tuple(set_value(tree, key, value) for key, value in own)
        made = _reader(name).validate_python(tree[name], context=self._context), places
        if len(self._tables) >= _KEPT_TABLES:
            self._tables.clear()
        self._tables[values] = made
        return made


@functools.cache
def _reader(name: str) -> TypeAdapter[Any]:
    table: Any = ScenarioSpec.model_fields[name].annotation
    return TypeAdapter(table)


@functools.lru_cache(maxsize=64)
def _rules_on(places: tuple[Place, ...]) -> tuple[Rule, ...]:
    """Return the rules that read a value at one of some places, each after those that it counts on."""
    return tuple(rule for rules in STAGES for rule in rules if any(map(rule.depends_on, places)))
