"""What a whole design has to keep to: each place varied once, levels of one kind, not too many cycles or traces."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

from ullage.errors import ScenarioError
from ullage.results.study_axes import coordinate_name
from ullage.scenario.checks import Found
from ullage.scenario.compile import Forcing, compile_problem, forcing_of
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import quantity_of_key
from ullage.scenario.limits import Place
from ullage.scenario.load import Scenario
from ullage.scenario.tree import set_value
from ullage.scenario.variants import Variants
from ullage.study.axes import Listed, Row, Spread
from ullage.study.design import Design
from ullage.study.plan import Study
from ullage.units import is_gauge

MOST_CYCLES = 1000
MOST_TRACED = 20e9  # of all traces [bytes]
MOST_TRACED_AT_ONCE = 1e9  # of a shard, and of a column of all members [bytes]

_OF_NO_RACE = ("pit", "display", "title")
_ALONE = 1000  # values of a key that are tried


def design_faults(base: Scenario, design: Design) -> Iterator[str]:
    """Go through what is wrong with a design as a whole.

    Parameters
    ----------
    base : Scenario
        The scenario from which members differ.
    design : Design
        The design; its values are accepted one by one.

    Yields
    ------
    str
        Sentences.
    """
    data = base.to_dict()
    places: dict[Place, str] = {}
    names: dict[str, str] = {}
    for axis in design.axes:
        for key, value in zip(axis.keys, _rows(axis)[0], strict=True):
            if key.partition(".")[0] in _OF_NO_RACE:
                yield f"{key} changes no race"
            elif (first := places.setdefault(set_value(data, key, value), key)) != key:
                yield f"varies one thing by two names, {first} and {key}"
            elif (first := names.setdefault(coordinate_name(key), key)) != key:
                name = coordinate_name(key)
                yield f"{first} and {key} would have one name in the results, {name}: address one by number"
    yield from _mixed_levels(design)


def _mixed_levels(design: Design) -> Iterator[str]:
    for axis in design.axes:
        for place, key in enumerate(axis.keys):
            quantity = quantity_of_key(ScenarioSpec, key)
            if quantity is None or quantity.kind != "pressure level":
                continue
            if len({is_gauge(str(row[place])) for row in _rows(axis)}) > 1:
                yield f"{key} mixes gauge and absolute levels: write all of them as one kind"


def _rows(axis: Listed | Spread) -> list[Row]:
    return [*axis.rows] if isinstance(axis, Listed) else axis.extremes()


def cycle_keys(base: Scenario, design: Design) -> tuple[str, ...]:
    """Return the keys that change the channels of the race: alone, or only together with others of their axis."""
    found: list[str] = []
    for axis in design.axes:
        rows = _rows(axis)
        alone = [key for place, key in enumerate(axis.keys) if _drives(base, (key,), [(row[place],) for row in rows])]
        found += alone or (axis.keys if len(axis.keys) > 1 and _drives(base, axis.keys, rows) else ())
    return tuple(found)


def _drives(base: Scenario, keys: tuple[str, ...], rows: list[Row]) -> bool:
    usual = forcing_of(base.spec)
    return any(forcing != usual for forcing in _forcings(Variants(base, keys), [*dict.fromkeys(rows)][:_ALONE]))


def _forcings(variants: Variants, rows: list[Row]) -> Iterator[Forcing]:
    """Go through what drives the races of some values; those that cannot stand alone are left out."""
    for row in rows:
        with contextlib.suppress(ScenarioError):
            yield forcing_of(variants.spec(row))


def study_faults(study: Study, place: Place) -> Iterator[Found]:
    """Go through what makes a study too large, or asks for members that it has not.

    Parameters
    ----------
    study : Study
        The study.
    place : tuple
        Where its file says what is varied.

    Yields
    ------
    tuple
        Place and sentence.
    """
    if study.cycles > MOST_CYCLES:
        table = compile_problem(study.scenario.spec).table
        each = f"{len(table.time):,} rows, {table.channels.nbytes / 1e6:.1f} MB"
        names = ", ".join(study.cycle_keys)
        text = f"{names}: {study.cycles:,} duty cycles of {each} each, and at most {MOST_CYCLES:,} are built"
        yield place, f"{text}: list some `values` for it, or vary what the truck is, not what it meets"
        return
    for index, member in enumerate(study.traces.members or () if study.traces else ()):
        if member >= study.members:
            yield ("traces", "members", index), f"there is no member {member}: they are 0 to {study.members - 1}"
            return
    columns, times, traced = len(study.traced.columns), len(study.traced.times), len(study.traced.members)
    at_once = 8 * times * max(traced, columns * min(traced, study.shard_size))
    if 8 * times * columns * traced > MOST_TRACED or at_once > MOST_TRACED_AT_ONCE:
        asked = f"{traced:,} members, {columns} courses and {times:,} times"
        size = f"{asked} come to {8e-9 * times * columns * traced:,.1f} GB"
        yield ("traces",), f"{size}: trace fewer `members` or `variables`, or take a longer `interval`"
