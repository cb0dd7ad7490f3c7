"""From a study file to a `Study`, with every fault of it in one error."""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Iterator, Mapping
from importlib.metadata import version
from pathlib import Path
from typing import Any

from ullage.compiled import package_hash
from ullage.errors import Fault, ScenarioError
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.faults import examined
from ullage.scenario.fields import quantity_of_key
from ullage.scenario.limits import Place
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.source import Source, read_file, read_toml
from ullage.scenario.toml_text import write_toml
from ullage.scenario.variants import Variants
from ullage.study.axes import Listed, RangeError, Row, Spread, Value, spread_of
from ullage.study.design import Design, grid_of
from ullage.study.design_rules import cycle_keys, design_faults, study_faults
from ullage.study.plan import Study, StudySource
from ullage.study.spec import MOST_LEVELS, MOST_MEMBERS, STUDY_RULES, Axis, StudySpec
from ullage.study.table import MemberTable, read_member_table
from ullage.study.values import key_faults, value_faults

_CHANGE = "[change]"
_LONGEST_WHOLE = 18  # digits of a whole number
_FILES = ("duty.recording.file", "duty.track.file", "measured.file")
_CODE = package_hash()  # as it was loaded, whatever lies on the disk later


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
    if "scenario" not in data and {"reservoir", "duty"} & data.keys():
        text = "is a scenario, not a study: ullage run simulates it; a study file names its `scenario`"
        raise ScenarioError([Fault(given.name, None, "", text)])
    folder = Path(given.name).parent
    found = examined(StudySpec, data, source, folder, STUDY_RULES)
    if found.spec is None or ("scenario",) in found.places:
        raise ScenarioError(found.faults)
    spec, faults = found.spec, found.faults
    base, changed = _base(spec, source, folder, given.changes, changed_by)
    design, table, varied = _design(spec, base, source, folder, found.places)
    faults = [*faults, *changed, *varied]
    if faults or design is None:
        raise ScenarioError(sorted(faults, key=lambda fault: (fault.file != given.name, fault.line or 0)))
    place: Place = ("axis",) if table is None else ("table",)
    if set_too := {*design.keys} & {*given.changes}:
        raise ScenarioError(
            Fault(changed_by, None, key, "is varied by the study, so it cannot be set") for key in set_too
        )
    if whole := [*design_faults(base, design)]:
        raise ScenarioError(source.fault(place, text) for text in whole)
    kept = given._replace(text=write_toml(data))
    hashed = _hash(kept.text, base.hash, table.digest if table else "", *_files_named(base, design))
    study = Study(spec.title, base, design, spec.traces, cycle_keys(base, design), kept, hashed)
    if too_much := [*study_faults(study, place)]:
        raise ScenarioError(source.fault(*fault) for fault in too_much)
    return study


def _hash(*parts: str) -> str:
    """Return a hash of what a study is made from and of the code that runs it: 16 hexadecimal digits."""
    libraries = (f"{name} {version(name)}" for name in ("ullage", "numpy", "scipy", "numba"))
    return hashlib.sha256("\0".join([*parts, _CODE, *libraries]).encode()).hexdigest()[:16]


def _files_named(base: Scenario, design: Design) -> Iterator[str]:
    """Go through the hashes of the files that a design names, each once."""
    listed = (axis for axis in design.axes if isinstance(axis, Listed))
    for axis in listed:
        for key in (key for key in _FILES if key in axis.keys):
            place, variants = axis.keys.index(key), Variants(base, axis.keys)
            for row in {row[place]: row for row in axis.rows}.values():
                with contextlib.suppress(ScenarioError):
                    yield from variants.spec(row).digests


def _base(
    spec: StudySpec, source: Source, folder: Path, changes: Mapping[str, Any], called: str
) -> tuple[Scenario, list[Fault]]:
    """Return the scenario of a study with all that is laid over it, and what is wrong with that.

    No race depends on its study of a stop.
    """
    laid_over = _flat(spec.change)
    scenario = _scenario(folder / spec.scenario, source).replace({"pit": None})
    faults: list[Fault] = []
    try:
        scenario = scenario.replace(laid_over, bare_numbers=False, name=_CHANGE) if laid_over else scenario
    except ScenarioError as error:
        faults += [_with_line(fault, source, laid_over) for fault in error.faults]
    try:
        return (scenario.replace(changes, bare_numbers=False, name=called) if changes else scenario), faults
    except ScenarioError as error:
        return scenario, [*faults, *error.faults]


def _scenario(path: Path, source: Source) -> Scenario:
    try:
        return load_scenario(path)
    except ScenarioError as error:
        if any(fault.key in ("axis", "scenario") for fault in error.faults):
            text = "names a study; the scenario from which it differs is wanted"
            raise ScenarioError([source.fault(("scenario",), text)]) from None
        raise


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


def _design(
    spec: StudySpec, base: Scenario, source: Source, folder: Path, faulty: list[Place]
) -> tuple[Design | None, MemberTable | None, list[Fault]]:
    """Return the design, the table if it is one, and what is wrong with what is varied; faulty axes rest."""
    try:
        if spec.table is not None:
            table = read_member_table(folder / spec.table)
            return _design_of_table(table, base), table, []
        return _design_of_axes(spec, base, source, faulty), None, []
    except ScenarioError as error:
        return None, None, error.faults


def _design_of_axes(spec: StudySpec, base: Scenario, source: Source, faulty: list[Place]) -> Design | None:
    found: list[tuple[Place, str]] = []
    axes: list[Listed | Spread] = []
    grid = spec.sampling.method == "grid" and not any(place[0] == "sampling" for place in faulty)
    resting = {place[1] for place in faulty if place[0] == "axis" and len(place) > 1}
    for place, axis in enumerate(spec.axis):
        if ("axis",) in faulty or place in resting:
            continue
        made, wrong = _axis(axis, base, grid)
        found += [(("axis", place, *within), text) for within, text in wrong]
        if made is not None:
            axes.append(made)
    if found:
        raise ScenarioError(source.fault(*fault) for fault in found)
    if faulty or not axes:
        return None
    sampling = spec.sampling
    if sampling.method == "grid":
        whole = grid_of(tuple(axis for axis in axes if isinstance(axis, Listed)))
        if whole.members > MOST_MEMBERS:
            size = f"would make {whole.members:,} members, at most {MOST_MEMBERS:,} are run"
            raise ScenarioError([source.fault(("axis",), f"{size}: take fewer levels, or a sample")])
        return whole
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
        listed = grid or (whole and spread.high - spread.low < MOST_LEVELS)  # whole numbers are rows, equally likely
        made = spread.levels(axis.steps) if listed else spread
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
    if quantity_of_key(ScenarioSpec, key) is None and text.isdecimal() and len(text) <= _LONGEST_WHOLE:
        return int(text)
    return text
