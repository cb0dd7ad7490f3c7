"""A shard of a study: some members checked, marched and written as one file, by a thread, a worker or a job alike."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import h5py
import numpy as np
from numpy.typing import NDArray

from ullage.errors import STATUS_DONE, STATUS_REFUSED, STATUSES, ScenarioError, SimulationError
from ullage.kernel.state import State, record_dtype
from ullage.results.batch import Marched, batch_of, march_slice, slices_of, unmarched
from ullage.results.store import ResultsError, written_whole
from ullage.results.summary import state_figures
from ullage.results.trace import trace_at
from ullage.results.variables import FORMAT_VERSION
from ullage.scenario.compile import Problem, compile_problems
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.study.ledger import Ledger
from ullage.study.plan import Study

_ROWS_AT_ONCE = 500_000  # of channel tables that are marched before an interrupt is heard: about a second
_MOST_SLICE = 64


class GivenUpError(Exception):
    """A shard that was given up because the study was stopped."""


class Done(NamedTuple):
    """A shard that is on disk: its number, its members, and how many of them failed."""

    shard: int
    members: int
    failed: int


@dataclass(frozen=True)
class Shard:
    """What is left of some races.

    Parameters
    ----------
    members : array of shape (members,)
        Their numbers.
    statuses : array of shape (members,)
        Status codes.
    figures : structured array of shape (members,)
        Summary figures by name; not a number where a member failed.
    sentences : dict
        Why a member failed, by its number.
    traces : array of shape (traced members, columns, times)
        What was traced, not a number after the end or the failure of a race.
    """

    members: NDArray[np.int64]
    statuses: NDArray[np.int64]
    figures: NDArray[np.void]
    sentences: dict[int, str]
    traces: NDArray[np.float64]


def figure_dtype() -> np.dtype[Any]:
    """Return the type of a row of summary figures: a number, or one for each node, by name."""
    found = state_figures(np.recarray(0, dtype=record_dtype(State)))
    return np.dtype([(name, np.float64, values.shape[1:]) for name, values in found.items()])


def march_shard(study: Study, shard: int, stopped: Callable[[], bool] = lambda: False) -> Shard:
    """March the members of a shard in the calling thread.

    Parameters
    ----------
    study : Study
        The study.
    shard : int
        Number of the shard.
    stopped : function
        Asked now and then; the shard is given up once it says yes.

    Returns
    -------
    Shard
        The same to the last bit wherever it is marched on machines of one kind.

    Raises
    ------
    GivenUpError
        If it was given up.
    """
    members, plan = study.shard_members(shard), study.traced
    statuses = np.full(len(members), STATUS_REFUSED)
    states = np.recarray(len(members), dtype=record_dtype(State))
    sentences: dict[int, str] = {}
    specs, places = _checked(study, members, sentences)
    problems = dict(zip(places, compile_problems(specs), strict=True))
    traced = np.flatnonzero(np.isin(members, plan.members)).tolist()
    traces = np.full((len(traced), len(plan.columns), len(plan.times)), np.nan)
    for row, place in enumerate(traced):
        if stopped():
            raise GivenUpError
        if place in problems:
            trace = trace_at(problems.pop(place), plan.times)
            statuses[place], states[place] = trace.status, trace.state
            traces[row, :, : len(trace.rows)] = plan.values(trace.rows)
    if problems:
        marched = _march([*problems.values()], stopped)
        statuses[[*problems]], states[[*problems]] = marched.statuses, marched.states
    failed = np.flatnonzero((statuses != STATUS_DONE) & (statuses != STATUS_REFUSED))
    sentences |= {int(members[at]): str(SimulationError(int(statuses[at]), float(states.time[at]))) for at in failed}
    return Shard(members, statuses, _figures(states, statuses), sentences, traces)


def _checked(
    study: Study, members: NDArray[np.int64], sentences: dict[int, str]
) -> tuple[list[ScenarioSpec], list[int]]:
    """Return the specifications of those members that pass the checks and their places; note why others do not."""
    specs, places = [], []
    for place, (number, values) in enumerate(zip(members.tolist(), study.design.values(members), strict=True)):
        try:
            specs.append(study.variants.spec(values))
            places.append(place)
        except ScenarioError as error:
            sentences[number] = error.sentence
    return specs, places


def refusals(study: Study, members: NDArray[np.int64]) -> dict[int, str]:
    """Return why members of a study are refused by the checks, by their numbers."""
    sentences: dict[int, str] = {}
    _checked(study, members, sentences)
    return sentences


def _march(problems: list[Problem], stopped: Callable[[], bool]) -> Marched:
    batch = batch_of(problems)
    marched = unmarched(batch)
    longest = max(len(group.table.time) for group in batch.groups)
    for part in slices_of(batch, max(1, min(_MOST_SLICE, _ROWS_AT_ONCE // longest))):
        if stopped():
            raise GivenUpError
        march_slice(batch, marched, part)
    return marched


def _figures(states: np.recarray[Any, np.dtype[Any]], statuses: NDArray[np.int64]) -> NDArray[np.void]:
    figures = np.empty(len(states), dtype=figure_dtype())
    for name, values in state_figures(states).items():
        failed = (statuses != STATUS_DONE).reshape(-1, *[1] * (values.ndim - 1))
        figures[name] = np.where(failed, np.nan, values)
    return figures


def do_shard(ledger: Ledger, shard: int, stopped: Callable[[], bool] = lambda: False) -> Done:
    """March a shard and write it.

    Parameters
    ----------
    ledger : Ledger
        The directory of its study.
    shard : int
        Number of the shard.
    stopped : function
        Asked now and then; the shard is given up once it says yes.

    Returns
    -------
    Done
        What is on disk now.
    """
    marched = march_shard(ledger.study, shard, stopped)
    save_shard(marched, ledger.shard_file(shard), ledger.study.hash)
    return Done(shard, len(marched.members), int((marched.statuses != STATUS_DONE).sum()))


def save_shard(shard: Shard, path: Path, study_hash: str) -> None:
    """Write a shard; the file appears only when it is complete.

    Parameters
    ----------
    shard : Shard
        What was marched.
    path : Path
        File; one that exists is replaced in one step.
    study_hash : str
        Hash of the study to which it belongs.

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    inside = io.BytesIO()
    checked: dict[str, Any] = {"fletcher32": True, "chunks": True}
    with h5py.File(inside, "w", libver="latest") as file:  # the newest form checks its headers too
        file.attrs["format_version"] = FORMAT_VERSION
        file.attrs["study_hash"] = study_hash
        file.create_dataset("members", data=shard.members, track_times=False, **checked)
        file.create_dataset("statuses", data=shard.statuses, track_times=False, **checked)
        file.create_dataset("figures", data=shard.figures, track_times=False, **checked)
        if shard.traces.size:
            file.create_dataset("traces", data=shard.traces, track_times=False, **checked)
        if shard.sentences:
            failed = [(member, text.encode()) for member, text in sorted(shard.sentences.items())]
            width = max(len(text) for _, text in failed)
            rows = np.array(failed, dtype=[("member", np.int64), ("sentence", f"S{width}")])
            file.create_dataset("sentences", data=rows, track_times=False, **checked)
    with written_whole(path) as part:
        part.write_bytes(inside.getbuffer())


def load_shard(study: Study, shard: int, path: Path, columns: list[int]) -> Shard:
    """Read a shard.

    Parameters
    ----------
    study : Study
        The study to which it has to belong.
    shard : int
        Its number.
    path : Path
        File.
    columns : list of int
        Columns of the traces that are read, in their order.

    Returns
    -------
    Shard
        What `save_shard` wrote, of the traces only those columns.

    Raises
    ------
    ResultsError
        If it is damaged or belongs elsewhere.
    """
    if not path.is_file():
        raise ResultsError(f"{path}: is no file: take it away, then --resume does it again")
    try:
        with h5py.File(path, "r") as file:
            whose, found = file.attrs["study_hash"], _read(file, columns)
    except (OSError, LookupError, RuntimeError, TypeError, ValueError, AttributeError):
        raise ResultsError(f"{path}: is damaged: --resume does it again") from None
    if whose != study.hash:
        raise ResultsError(f"{path}: belongs to another study: --resume does it again")
    if not np.array_equal(found.members, study.shard_members(shard)):
        raise ResultsError(f"{path}: is another shard under this name: --resume does it again")
    traced = int(np.isin(found.members, study.traced.members).sum())
    if columns and traced and found.traces.shape != (traced, len(columns), len(study.traced.times)):
        raise ResultsError(f"{path}: is damaged: --resume does it again")
    return found


def _read(file: h5py.File, columns: list[int]) -> Shard:
    """Read a shard; what has not the types and lengths of one raises one of the errors of a damaged file."""
    members, statuses, figures = (file[name][()] for name in ("members", "statuses", "figures"))
    if not (figures.dtype == figure_dtype() and len(members) == len(statuses) == len(figures)):
        raise ValueError("not the figures of a shard")
    failed = file["sentences"][()] if "sentences" in file else ()
    traces = file["traces"][:, columns] if columns and "traces" in file else np.empty((0, len(columns), 0))
    if not np.isin(statuses, STATUSES).all():
        raise ValueError("no status of a race")
    return Shard(members, statuses, figures, {int(row["member"]): row["sentence"].decode() for row in failed}, traces)
