"""How rules between keys are asked: each names the keys that it reads, and rests where one of them is faulty."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from ullage.scenario.limits import Place

Found = tuple[Place, str]
Find = Callable[[Any], Iterator[Found]]


class Rule(NamedTuple):
    """A rule, the keys or tables that it reads, and the array whose elements it judges one by one, if it does.

    The rule goes through the specification and returns places and sentences.
    """

    find: Find
    reads: tuple[tuple[str, ...], ...]
    each: Place

    def faults(self, spec: Any, faulty: list[Place]) -> list[Found]:
        """Return what the rule finds; nothing where it would have to read a faulty value."""
        read = [place for place in faulty if self.depends_on(place)]
        elements = {self._element(place) for place in read}
        if None in elements:
            return []
        return [found for found in self.find(spec) if self._element(found[0]) not in elements]

    def _element(self, place: Place) -> Place | None:
        """Return the element of the array in which a place is, or None; arrays around it have indices of their own."""
        for end, part in enumerate(place, 1):
            if isinstance(part, int) and _names(place[:end]) == self.each:
                return place[:end]
        return None

    def depends_on(self, place: Place) -> bool:
        """Return whether the value at a place, or one within it, is among those that the rule reads."""
        names = _names(place)
        return any(key[: len(names)] == names[: len(key)] for key in self.reads)


def _names(place: Place) -> tuple[str, ...]:
    return tuple(part for part in place if isinstance(part, str))


def rule(rules: list[Rule], *reads: str, each: str = "") -> Callable[[Find], Find]:
    """Enter a function as a rule into a list.

    Parameters
    ----------
    rules : list of Rule
        The list.
    *reads : str
        Dotted keys that the rule reads, without indices; a table stands for all its keys.
    each : str
        Dotted key of the array whose elements it judges one by one.

    Returns
    -------
    callable
        A decorator that leaves the function as it is.
    """

    def enter(find: Find) -> Find:
        rules.append(Rule(find, tuple(tuple(key.split(".")) for key in reads), tuple(each.split(".")) if each else ()))
        return find

    return enter


def cross_faults(spec: Any, faulty: list[Place], *stages: list[Rule]) -> list[Found]:
    """Return every fault between keys.

    Parameters
    ----------
    spec : Spec
        A specification whose single values are right, or stand in for faulty ones.
    faulty : list of tuple
        Places of the values that stand in.
    *stages : list of Rule
        Rules; those of a later list are not asked about a place where an earlier list found a fault.

    Returns
    -------
    list of tuple
        Place and sentence.
    """
    found: list[Found] = []
    for rules in stages:
        blocked = [*faulty, *(place for place, _ in found)]
        found += [fault for each in rules for fault in each.faults(spec, blocked)]
    return found
