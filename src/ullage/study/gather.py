"""From the shards of a study to its one Dataset on disk, without holding it in memory."""

from __future__ import annotations

import importlib.metadata
import io
import json
import math
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import h5netcdf
import numpy as np
from numpy.typing import NDArray

from ullage.errors import STATUSES, failure_sentence
from ullage.kernel.state import NODES
from ullage.results.store import written_whole
from ullage.results.study_axes import coordinate_name
from ullage.results.variables import COORDINATES, FORMAT_VERSION, SUMMARY_FIGURES, VARIABLES, Variable, attributes
from ullage.study.axes import Listed
from ullage.study.ledger import Ledger, StudyError
from ullage.study.plan import Study
from ullage.study.shard import Shard, figure_dtype, load_shard
from ullage.study.traces import TracePlan
from ullage.study.values import column

_HELD = 1e9  # most of the figures that is held at once [bytes]
_IN_MEMORY = 300_000_000  # up to which the file is made in memory: a full disk is then met in one place
_HEAD, _WORDS = 1_000_000, 300  # of a file, and of what a member's status and sentence take at most [bytes]
_PACKED = 500e3  # size from which a variable is packed [bytes]
_CHUNK = 32_768  # numbers that are packed together
_WRITTEN_AT_ONCE = 100_000  # members whose texts are written at once
_MEMBER = Variable("1", "number of the member")
_SENTENCE = Variable("", "why a member failed, where and what to look at")


class _Told(NamedTuple):
    """Status codes of all members, and why some failed."""

    statuses: NDArray[np.int64]
    sentences: dict[int, str]


def gather(ledger: Ledger) -> None:
    """Write the results of a study as one netCDF-4 file; it appears only when it is complete.

    Parameters
    ----------
    ledger : Ledger
        The directory of the study.

    Raises
    ------
    StudyError
        If shards are missing.
    ResultsError
        If a shard is damaged, or the file cannot be written.
    """
    if missing := ledger.missing():
        first = ", ".join(map(str, missing[:10])) + (" ..." if len(missing) > 10 else "")
        raise StudyError(
            f"{ledger.directory}: {ledger.progress()}, numbers {first} (from 0) are missing: go on with --resume"
        )
    needed, free = _needed(ledger.study), shutil.disk_usage(ledger.directory).free
    if needed > free:
        raise StudyError(
            f"{ledger.directory}: up to {1e-9 * needed:,.1f} GB are needed and {1e-9 * free:,.1f} are free: "
            "make room, then --gather"
        )
    with written_whole(ledger.study_file) as part:
        if needed > _IN_MEMORY:
            _write(part, ledger)
            return
        whole = io.BytesIO()
        _write(whole, ledger)
        part.write_bytes(whole.getbuffer())


def _needed(study: Study) -> int:
    """Return the most that a study takes on disk [bytes]."""
    texts = sum(axis.text_width(place) for axis in study.design.axes for place in range(len(axis.keys)))
    traces = len(study.traced.members) * len(study.traced.columns) * len(study.traced.times)
    row = figure_dtype().itemsize + 8 * len(study.design.keys) + texts + _WORDS
    return study.members * row + 8 * traces + _HEAD


def _write(target: Path | io.BytesIO, ledger: Ledger) -> None:
    with h5netcdf.File(target, "w") as file:
        told = _write_shards(file, ledger)
        _write_members(file, ledger.study, told)
        for name, value in _global(ledger.study).items():
            file.attrs[name] = value


def _write_shards(file: h5netcdf.File, ledger: Ledger) -> _Told:
    """Write figures and traces, as many at once as may be held of all members."""
    study, plan = ledger.study, ledger.study.traced
    file.dimensions = {"member": study.members, "node": len(NODES)}
    _create(file, "node", ("node",), np.array(NODES, dtype="S").dtype, {"long_name": "oil node"})
    _set_text(file, "node", slice(None), np.array(NODES, dtype="S"))
    _create_traces(file, plan)
    told = _Told(np.empty(study.members, dtype=np.int64), {})
    for names in _blocks(study.members):
        held = {name: np.empty((study.members, *figure_dtype()[name].shape)) for name in names}
        for found in _found(ledger, []):
            told.statuses[found.members] = found.statuses
            told.sentences.update(found.sentences)
            for name, values in held.items():
                values[found.members] = found.figures[name]
        for name, values in held.items():
            dims = ("member", "node")[: values.ndim]
            _create(file, name, dims, values.dtype, attributes(SUMMARY_FIGURES[name]))[...] = values
    for place, (name, node) in enumerate(plan.columns):
        traces = np.empty((len(plan.members), len(plan.times)))
        for found in _found(ledger, [place]):
            traced = found.members[np.isin(found.members, plan.members)]
            if len(traced):
                traces[np.searchsorted(plan.members, traced)] = found.traces[:, 0]
        file.variables[name][... if node is None else (slice(None), node)] = traces
    return told


def _found(ledger: Ledger, columns: list[int]) -> Iterator[Shard]:
    for shard in range(ledger.study.shards):
        yield load_shard(ledger.study, shard, ledger.shard_file(shard), columns)


def _blocks(members: int) -> Iterator[list[str]]:
    """Go through the names of the figures, as many at once as may be held for all members."""
    names: list[str] = []
    size = 0
    for name in figure_dtype().names or ():
        width = figure_dtype()[name].itemsize * members
        if names and size + width > _HELD:
            yield names
            names, size = [], 0
        names.append(name)
        size += width
    yield names


def _create_traces(file: h5netcdf.File, plan: TracePlan) -> None:
    if not plan.columns:
        return
    file.dimensions["traced_member"] = len(plan.members)
    file.dimensions["time"] = len(plan.times)
    _create(file, "traced_member", ("traced_member",), plan.members.dtype, attributes(_MEMBER))[...] = plan.members
    _create(file, "time", ("time",), plan.times.dtype, attributes(COORDINATES["time"]))[...] = plan.times
    for name in dict.fromkeys(traced.name for traced in plan.columns):
        nodes = ("node",) if (name, 0) in plan.columns else ()
        _create(file, name, ("traced_member", *nodes, "time"), plan.times.dtype, attributes(VARIABLES[name]))


def _write_members(file: h5netcdf.File, study: Study, told: _Told) -> None:
    """Write what tells members apart and how they ended, some thousand at once."""
    statuses = np.array([failure_sentence(status)[0].encode() for status in STATUSES])
    longest = max([1, *(len(text.encode()) for text in told.sentences.values())])
    _create(file, "member", ("member",), np.dtype(np.int64), attributes(_MEMBER))[...] = np.arange(study.members)
    _create(file, "status", ("member",), statuses.dtype, attributes(SUMMARY_FIGURES["status"]))
    _create(file, "sentence", ("member",), np.dtype(f"S{longest}"), attributes(_SENTENCE))
    for first in range(0, study.members, _WRITTEN_AT_ONCE):
        numbers = np.arange(first, min(first + _WRITTEN_AT_ONCE, study.members))
        part = slice(first, first + len(numbers))
        _set_text(file, "status", part, statuses[told.statuses[part]])
        _set_text(file, "sentence", part, np.array([told.sentences.get(n, "").encode() for n in numbers.tolist()]))
        _write_values(file, study, numbers)
    keys = " ".join(
        name for key in study.design.keys for name in (coordinate_name(key), f"{coordinate_name(key)}_text")
    )
    file.attrs["coordinates"] = keys


def _write_values(file: h5netcdf.File, study: Study, numbers: NDArray[np.int64]) -> None:
    part = slice(int(numbers[0]), int(numbers[-1]) + 1)
    widths = (axis.text_width(place) for axis in study.design.axes for place in range(len(axis.keys)))
    columns = zip(*study.design.values(numbers), strict=True)
    for key, values, width in zip(study.design.keys, columns, widths, strict=True):
        found, name = column(key, values), coordinate_name(key)
        if part.start == 0:
            written = {"long_name": f"{found.attributes['long_name']}, as written", "key": key}
            _create(file, f"{name}_text", ("member",), np.dtype(f"S{width}"), written)
            kind = np.dtype(f"S{width}") if found.plain else found.values.dtype
            _create(file, name, ("member",), kind, found.attributes)
        _set_text(file, f"{name}_text", part, found.texts)
        if found.plain:
            _set_text(file, name, part, found.texts)
        else:
            file.variables[name][part] = found.values


def _create(file: h5netcdf.File, name: str, dims: tuple[str, ...], dtype: np.dtype[Any], attrs: dict[str, str]) -> Any:
    """Make a variable; one of text gets a dimension for its letters, and large ones are packed."""
    if dtype.kind == "S":
        letters = f"text{dtype.itemsize}"
        if letters not in file.dimensions:
            file.dimensions[letters] = dtype.itemsize
        dims, dtype, attrs = (*dims, letters), np.dtype("S1"), {**attrs, "_Encoding": "utf-8"}
    shape = [file.dimensions[dim].size for dim in dims]
    packing: dict[str, Any] = {}
    if math.prod(shape) * dtype.itemsize > _PACKED:
        packing = {"compression": "gzip", "compression_opts": 1, "shuffle": True, "chunks": _chunks(shape, dims)}
    variable = file.create_variable(name, dims, dtype, **packing)
    for attribute, value in attrs.items():
        variable.attrs[attribute] = value
    return variable


def _chunks(shape: list[int], dims: tuple[str, ...]) -> tuple[int, ...]:
    """Return the shape of what is packed together: whole courses and texts of some members, one node at a time."""
    inner = [1 if dim == "node" and dims[-1] == "time" else size for dim, size in zip(dims[1:], shape[1:], strict=True)]
    return (max(1, min(shape[0], _CHUNK // math.prod(inner))), *inner)


def _set_text(file: h5netcdf.File, name: str, part: slice, texts: NDArray[np.bytes_]) -> None:
    variable = file.variables[name]
    width = variable.shape[-1]
    variable[part] = texts.astype(f"S{width}").view("S1").reshape(-1, width)


def _global(study: Study) -> dict[str, Any]:
    spec, design = study.scenario.spec, study.design
    ours = importlib.metadata.version("ullage")
    spreads = [
        {"keys": axis.keys, "distribution": None if isinstance(axis, Listed) else axis.distribution}
        for axis in design.axes
    ]
    cap = {"cap_relief_pressure": spec.cap.relief_pressure} if spec.cap.kind == "sealed" else {}
    libraries = {name: importlib.metadata.version(name) for name in ("numpy", "scipy", "numba")}
    return {
        "title": study.title,
        "history": f"simulated and gathered by ullage {ours}",
        "kind": "study",
        "ullage_version": ours,
        "libraries": json.dumps(libraries),
        "format_version": FORMAT_VERSION,
        "study_toml": study.source.text,
        "study_hash": study.hash,
        "scenario_toml": study.scenario.to_toml(),
        "scenario_hash": study.scenario.hash,
        "sampling": json.dumps({"method": design.method, "members": design.members, "seed": design.seed}),
        "axes": json.dumps(spreads),
        "air_model": spec.air.model,
        "tank_rating": spec.reservoir.rating.pascal,
        "seal_rating": spec.pump.seal_rating.pascal,
        **cap,
    }
