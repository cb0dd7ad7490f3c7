"""From a study file to a `Study`, with every fault of it in one error."""

from __future__ import annotations

import contextlib
import functools
import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from ullage.compiled import source_hash
from ullage.errors import Fault, ScenarioError
from ullage.scenario.circuit import race_pieces
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
from ullage.study.spec import STUDY_RULES, Axis, StudySpec, Traces
from ullage.study.table import MemberTable, read_member_table
from ullage.study.traces import NO_TRACES, TracePlan, trace_plan
from ullage.study.values import key_faults, value_faults

MOST_CYCLES = 1000

_CHANGE = "[change]"
_SLICE = 64
_LARGEST_SHARD = 1024
_SHARDS = 256  # up to which shards stay small


class StudySource(NamedTuple):
    """What a study is made from: the text of its file, the file's name, and what was changed on top of it.

    Files that it names are looked for beside `name`. `changes` are values of the scenario by dotted key.
    """

    text: str
    name: str
    changes: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class Study:
    """A study that has passed every check: a scenario, and what is varied.

    Attributes
    ----------
    title : str
        What it asks.
    scenario : Scenario
        The scenario from which members differ; without its study of a stop.
    design : Design
        Which values each member has.
    traces : Traces or None
        Which courses over race time are kept.
    cycle_keys : tuple of str
        Keys that change what the truck drives through: members that differ in them need a duty cycle of their own.
    source : StudySource
        Where it comes from.
    hash : str
        Hash of study, scenario and the files that they read, and of the equations: 16 hexadecimal digits.
    """

    title: str
    scenario: Scenario
    design: Design
    traces: Traces | None
    cycle_keys: tuple[str, ...]
    source: StudySource
    hash: str

    @property
    def members(self) -> int:
        """How many races it has."""
        return self.design.members

    @functools.cached_property
    def variants(self) -> Variants:
        """The scenarios of its members."""
        return Variants(self.scenario, self.design.keys)

    @functools.cached_property
    def cycles(self) -> int:
        """How many different duty cycles its members drive."""
        return int(self.design.codes(self.cycle_keys).max()) + 1

    @property
    def shard_size(self) -> int:
        """How many members are marched and written as one."""
        slices = -(-self.members // (_SLICE * _SHARDS))
        return min(_SLICE * slices, _LARGEST_SHARD)

    @property
    def shards(self) -> int:
        """How many shards it has."""
        return -(-self.members // self.shard_size)

    @functools.cached_property
    def order(self) -> np.ndarray[Any, np.dtype[np.int64]]:
        """Members in the order of the shards: those with the same duty cycle stand together."""
        return np.argsort(self.design.codes(self.cycle_keys), kind="stable")

    @functools.cached_property
    def traced(self) -> TracePlan:
        """What is traced."""
        return NO_TRACES if self.traces is None else trace_plan(self.traces, self.members, self.duration)

    @functools.cached_property
    def duration(self) -> float:
        """The longest race of a member [s]."""
        codes = self.design.codes(self.cycle_keys)
        one_of_each = np.unique(codes, return_index=True)[1]
        ends = []
        for values in self.design.values(one_of_each):
            with contextlib.suppress(ScenarioError):
                ends.append(race_pieces(self.variants.spec(values))[0][-1].end)
        return max(ends, default=0.0)

    def shard_members(self, shard: int) -> np.ndarray[Any, np.dtype[np.int64]]:
        """Return the numbers of the members in a shard."""
        first, end = shard * self.shard_size, min((shard + 1) * self.shard_size, self.members)
        return self.order[first:end] if self.cycle_keys else np.arange(first, end)


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
        return grid_of(tuple(axis for axis in axes if isinstance(axis, Listed)))
    return Design(tuple(axes), sampling.method, sampling.members or 1, sampling.seed)


def _axis(axis: Axis, base: Scenario, grid: bool) -> tuple[Listed | Spread | None, list[tuple[Place, str]]]:
    """Return an axis with its values, or None, and what is wrong with it by its place in the axis."""
    first: Row = axis.rows[0] if axis.values else (axis.low,)
    if unknown := [(key, text) for key, text in key_faults(base, axis.names, first) if "unknown key" in text]:
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
    faults = [
        Fault(table.name, None, key, text)
        for key, text in key_faults(base, table.keys, rows[0])
        if "unknown key" in text
    ]
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
