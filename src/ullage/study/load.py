"""From a study file to a `Study`, with every fault of it in one error."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ullage.compiled import source_hash
from ullage.errors import Fault, ScenarioError
from ullage.scenario.compile import Forcing, compile_problem, forcing_of
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.faults import checked_as
from ullage.scenario.fields import quantity_of_key
from ullage.scenario.limits import Place
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.source import Source, read_file, read_toml
from ullage.scenario.toml_text import write_toml
from ullage.scenario.variants import Variants
from ullage.study.axes import Listed, RangeError, Row, Spread, Value, spread_of
from ullage.study.design import Design, grid_of
from ullage.study.plan import Study, StudySource
from ullage.study.spec import MOST_MEMBERS, STUDY_RULES, Axis, StudySpec
from ullage.study.table import MemberTable, read_member_table
from ullage.study.values import key_faults, value_faults

MOST_CYCLES = 1000

_CHANGE = "[change]"


def load_study(path: str | Path) -> Study:
    """Read a study file.

    Parameters
    ----------
    path : str or Path
        A TOML file.

    Returns
    -------
    Study
        The checked study.

    Raises
    ------
    ScenarioError
        If a file cannot be read, or with every fault found in study, scenario or table.
    """
    return study_of(StudySource(read_file(path), str(path), {}))


def study_of(given: StudySource, changed_by: str = "") -> Study:
    """Make a study.

    Parameters
    ----------
    given : StudySource
        What it is made from.
    changed_by : str
        What its changes are called in a fault.

    Returns
    -------
    Study
        The checked study.

    Raises
    ------
    ScenarioError
        With every fault found.
    """
    data, source = read_toml(given.text, given.name)
    folder = Path(given.name).parent
    spec = checked_as(StudySpec, data, source, folder, STUDY_RULES)
    base = _base(spec, source, folder, given.changes, changed_by)
    table = None if spec.table is None else read_member_table(folder / spec.table)
    design = _design_of_axes(spec, base, source) if table is None else _design_of_table(table, base)
    cycles = _cycle_keys(base, design)
    found = [*_too_many(base, design, cycles), *_no_such_members(spec, design)]
    if found:
        raise ScenarioError(source.fault(*fault) for fault in found)
    digest = hashlib.sha256()
    for part in (write_toml(data), base.hash, table.digest if table else "", source_hash()):
        digest.update(part.encode())
    kept = given._replace(text=write_toml(data))
    return Study(spec.title, base, design, spec.traces, cycles, kept, digest.hexdigest()[:16])


def _base(spec: StudySpec, source: Source, folder: Path, changes: Mapping[str, Any], called: str) -> Scenario:
    """Return the scenario of a study with everything that is laid over it; no race depends on its study of a stop."""
    laid_over = _flat(spec.change)
    scenario = load_scenario(folder / spec.scenario)
    try:
        scenario = scenario.replace({"pit": None, **laid_over}, bare_numbers=False, name=_CHANGE)
    except ScenarioError as error:
        raise ScenarioError(_with_line(fault, source, laid_over) for fault in error.faults) from None
    return scenario.replace(changes, bare_numbers=False, name=called) if changes else scenario


def _flat(table: Mapping[str, Any], path: str = "") -> dict[str, Any]:
    """Return nested tables as one of dotted keys."""
    flat: dict[str, Any] = {}
    for name, value in table.items():
        flat |= _flat(value, f"{path}{name}.") if isinstance(value, dict) else {path + name: value}
    return flat


def _with_line(fault: Fault, source: Source, laid_over: Mapping[str, Any]) -> Fault:
    if fault.file != _CHANGE:
        return fault
    key = next((key for key in laid_over if fault.key.startswith(key)), fault.key)
    quoted_place: Place = ("change", key)
    place = quoted_place if quoted_place in source.lines else ("change", *key.split("."))
    return source.fault(place, fault.text)._replace(key=f"change.{fault.key}")


def _design_of_axes(spec: StudySpec, base: Scenario, source: Source) -> Design:
    found: list[tuple[Place, str]] = []
    axes: list[Listed | Spread] = []
    for place, axis in enumerate(spec.axis):
        made, wrong = _axis(axis, base, spec.sampling.method == "grid")
        found += [(("axis", place, *within), text) for within, text in wrong]
        if made is not None:
            axes.append(made)
    if found:
        raise ScenarioError(source.fault(*fault) for fault in found)
    sampling = spec.sampling
    if sampling.method == "grid":
        grid = grid_of(tuple(axis for axis in axes if isinstance(axis, Listed)))
        if grid.members > MOST_MEMBERS:
            text = (
                f"would make {grid.members:,} members, at most {MOST_MEMBERS:,} are run: take fewer levels, or a sample"
            )
            raise ScenarioError([source.fault(("axis",), text)])
        return grid
    return Design(tuple(axes), sampling.method, sampling.members or 1, sampling.seed)


def _axis(axis: Axis, base: Scenario, grid: bool) -> tuple[Listed | Spread | None, list[tuple[Place, str]]]:
    """Return an axis with its values, or None, and what is wrong with it by its place in the axis."""
    first: Row = axis.rows[0] if axis.values else (axis.low,)
    if unknown := key_faults(base, axis.names, first):
        return None, [((_key_place(axis, key)), text) for key, text in unknown]
    if axis.values:
        rows = tuple(tuple(row) for row in axis.rows)
        wrong: list[tuple[Place, str]] = [
            (("values", index), text if axis.key else f"{key}: {text}")
            for index, key, text in value_faults(base, axis.names, rows)
        ]
        return Listed(axis.names, rows), wrong
    return _range(axis, base, grid)


def _range(axis: Axis, base: Scenario, grid: bool) -> tuple[Listed | Spread | None, list[tuple[Place, str]]]:
    ends = [("low", axis.low), ("high", axis.high)]
    wrong: list[tuple[Place, str]] = [
        ((name,), text) for name, value in ends for _, _, text in value_faults(base, axis.names, [(value,)])
    ]
    if wrong:
        return None, wrong
    whole = quantity_of_key(ScenarioSpec, axis.names[0]) is None
    try:
        spread = spread_of(axis, whole)
        made = spread.levels(axis.steps) if grid else spread
    except RangeError as error:
        return None, [((), str(error))]
    reached = value_faults(base, axis.names, spread.extremes())
    too_far = f"its {spread.distribution} spread reaches too far, bring `low` and `high` together"
    return made, [((), f"{too_far}: {text}") for _, _, text in reached]


def _key_place(axis: Axis, key: str) -> Place:
    return ("key",) if axis.key is not None else ("keys", axis.keys.index(key) if key in axis.keys else 0)


def _design_of_table(table: MemberTable, base: Scenario) -> Design:
    rows = [tuple(_cell(key, cell) for key, cell in zip(table.keys, row, strict=True)) for row in table.rows]
    faults = [Fault(table.name, None, key, text) for key, text in key_faults(base, table.keys, rows[0])]
    if not faults:
        faults = [table.fault(*fault) for fault in value_faults(base, table.keys, rows)]
    if faults:
        raise ScenarioError(faults)
    return Design((Listed(table.keys, tuple(rows)),), "table", len(rows), 0)


def _cell(key: str, text: str) -> Value:
    """Return the value of a cell: a whole number where the key is no quantity and the cell is one."""
    if quantity_of_key(ScenarioSpec, key) is None and text.isdecimal():
        return int(text)
    return text


def _cycle_keys(base: Scenario, design: Design) -> tuple[str, ...]:
    """Return the keys that change the channels of the race when they vary alone."""
    usual = forcing_of(base.spec)
    found = []
    for axis in design.axes:
        rows = axis.rows if isinstance(axis, Listed) else axis.extremes()
        for place, key in enumerate(axis.keys):
            variants = Variants(base, [key])
            values = list(dict.fromkeys(row[place] for row in rows))[: MOST_CYCLES + 1]
            if any(forcing != usual for forcing in _forcings(variants, values)):
                found.append(key)
    return tuple(found)


def _forcings(variants: Variants, values: list[Value]) -> Iterator[Forcing]:
    """Go through what drives the races of some values of a key; those that cannot stand alone are left out."""
    for value in values:
        with contextlib.suppress(ScenarioError):
            yield forcing_of(variants.spec((value,)))


def _too_many(base: Scenario, design: Design, cycles: tuple[str, ...]) -> Iterator[tuple[Place, str]]:
    """Find duty cycles that are too many to be built, each for a member or a few."""
    count = int(design.codes(cycles).max()) + 1
    if count > MOST_CYCLES:
        table = compile_problem(base.spec).table
        size = f"{len(table.time):,} rows, {table.channels.nbytes / 1e6:.1f} MB"
        text = (
            f"{', '.join(cycles)} would need {count:,} duty cycles of {size} each, at most {MOST_CYCLES:,} are built: "
        )
        yield ("axis",), text + "list some `values` for it, or vary what the truck is, not what it meets"


def _no_such_members(spec: StudySpec, design: Design) -> Iterator[tuple[Place, str]]:
    for place, member in enumerate(spec.traces.members or () if spec.traces else ()):
        if member >= design.members:
            yield ("traces", "members", place), f"there is no member {member}: they are 0 to {design.members - 1}"
