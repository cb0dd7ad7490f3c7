"""How large a scenario may be: what a person would write, times a hundred. Holds for files and for dicts alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

Place = tuple[str | int, ...]

DEEPEST = 20
MOST_VALUES = 50_000
MOST_ELEMENTS = 5_000


def too_large(places: Iterable[Place]) -> tuple[Place, str] | None:
    """Return where a tree is too large and why, or None; no more is looked at than the limits allow.

    Parameters
    ----------
    places : iterable of tuple
        Keys and indices of every value of the tree, as `places_of` goes through them.

    Returns
    -------
    tuple or None
        Place and sentence.
    """
    for count, place in enumerate(places, 1):
        if len(place) > DEEPEST:
            return place[:2], f"is nested more than {DEEPEST} deep"
        if place and isinstance(place[-1], int) and place[-1] >= MOST_ELEMENTS:
            return place[:-1], f"has more than {MOST_ELEMENTS} elements"
        if count > MOST_VALUES:
            return (), f"more than {MOST_VALUES} values"
    return None


def places_of(tree: Any, place: Place = ()) -> Iterator[Place]:
    """Go through the places of all values in nested mappings, lists and tuples, one by one."""
    inner: Iterable[tuple[Any, Any]] = ()
    if isinstance(tree, Mapping):
        inner = tree.items()
    elif isinstance(tree, list | tuple):
        inner = enumerate(tree)
    for key, value in inner:
        yield (*place, key)
        yield from places_of(value, (*place, key))
