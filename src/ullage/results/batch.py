"""Many races at once: records that share channel tables, marched over threads, and their summary figures."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.duty.channels import ChannelTable
from ullage.errors import STATUS_DONE, STATUS_NOT_A_NUMBER, STATUSES, failure_sentence
from ullage.kernel.batch import march_members
from ullage.kernel.modes import SWITCHES
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.params import FIELDS, PARAMETER_DTYPE
from ullage.kernel.state import NODES, Scratch, State, empty_record, record_dtype
from ullage.results.summary import state_figures
from ullage.results.variables import SUMMARY_FIGURES, attributes
from ullage.scenario.compile import Problem

Records = np.recarray[Any, np.dtype[Any]]

SLICE = 64


class Group(NamedTuple):
    """Members of a batch, by their places in it, that share a channel table."""

    table: ChannelTable
    members: NDArray[np.int64]


@dataclass(frozen=True)
class Batch:
    """Races to march: parameters and initial state of each member, and the groups, each member in one of them."""

    parameters: Records
    states: Records
    groups: tuple[Group, ...]


@dataclass(frozen=True)
class Marched:
    """What is left of a batch: the last state of each member, and its status code."""

    states: Records
    statuses: NDArray[np.int64]


def batch_of(problems: Iterable[Problem]) -> Batch:
    """Gather races into a batch.

    Parameters
    ----------
    problems : iterable of Problem
        The members, in their order. Those with the same table, as `compile_problems` makes them, are a group.

    Returns
    -------
    Batch
        Copies of their records.
    """
    parameters, states = [], []
    groups: dict[int, tuple[ChannelTable, list[int]]] = {}
    for place, problem in enumerate(problems):
        parameters.append(problem.parameters)
        states.append(problem.state)
        groups.setdefault(id(problem.table), (problem.table, []))[1].append(place)
    return Batch(
        np.array(parameters, dtype=PARAMETER_DTYPE).view(np.recarray),
        np.array(states, dtype=record_dtype(State)).view(np.recarray),
        tuple(Group(table, np.array(members)) for table, members in groups.values()),
    )


def batch_with(problem: Problem, parameters: Records) -> Batch:
    """Make a batch of one race with many records of parameters.

    Parameters
    ----------
    problem : Problem
        The race: its table and its initial state are those of all members.
    parameters : record array of shape (members,)
        Parameters of each member. Channels and initial state do not follow from them: vary only what neither depends
        on (cap, lines, pump, cooler, coefficients), not oil, fill or what the truck meets.

    Returns
    -------
    Batch
        One group.
    """
    state = np.array([problem.state], dtype=record_dtype(State)).view(np.recarray)
    states = np.broadcast_to(state, len(parameters)).view(np.recarray)
    return Batch(parameters, states, (Group(problem.table, np.arange(len(parameters))),))


def march_batch(
    batch: Batch,
    *,
    workers: int | None = None,
    slice_size: int = SLICE,
    progress: Callable[[int, int], None] | None = None,
) -> Marched:
    """March every member of a batch.

    Parameters
    ----------
    batch : Batch
        The races; it is left as it is.
    workers : int or None
        Threads; None is one for each core.
    slice_size : int
        Members that a thread marches in one go. An interrupt acts between slices: take fewer where races are long.
    progress : function or None
        Called in the calling thread with the members done and all members, after each slice.

    Returns
    -------
    Marched
        The same to the last bit for any number of threads, slice size and order of the members, and that of
        `trace_race` for each of them. A member that fails keeps the state of its failure and touches no other; one
        with a parameter that is not a number is not marched.

    Raises
    ------
    ValueError
        If there is no thread, or no member in a slice, or a member is not in just one group.
    """
    if slice_size < 1 or (workers is not None and workers < 1):
        raise ValueError(f"workers is {workers}, slice_size is {slice_size}; take whole numbers from 1 on")
    places = np.concatenate([np.empty(0, dtype=np.int64), *(group.members for group in batch.groups)])
    if not np.array_equal(np.sort(places), np.arange(len(batch.parameters))):
        raise ValueError("each member of a batch has to be in one group, and in one only")
    marched = unmarched(batch)
    for group in batch.groups[:1]:
        march_slice(batch, marched, group._replace(members=group.members[:0]))  # compiled here: an interrupt is heard
    pool = ThreadPoolExecutor(workers or os.cpu_count() or 1)
    try:
        slices = {
            pool.submit(march_slice, batch, marched, part): len(part.members) for part in slices_of(batch, slice_size)
        }
        _follow(slices, len(marched.statuses), progress)
    finally:
        pool.shutdown(cancel_futures=True)
    return marched


def unmarched(batch: Batch) -> Marched:
    """Return what `march_slice` goes on with: the initial states, and who is not to be marched at all."""
    numbers = np.ascontiguousarray(batch.parameters).view(np.float64).reshape(-1, len(FIELDS))
    statuses = np.where(np.isnan(numbers).any(axis=1), STATUS_NOT_A_NUMBER, STATUS_DONE)
    return Marched(batch.states.copy(), statuses)


def _follow(slices: dict[Future[None], int], members: int, progress: Callable[[int, int], None] | None) -> None:
    done = 0
    for future in as_completed(slices):
        future.result()
        done += slices[future]
        if progress:
            progress(done, members)


def slices_of(batch: Batch, size: int) -> Iterator[Group]:
    """Go through a batch in slices: members of a group, no more than a number of them."""
    for table, members in batch.groups:
        for first in range(0, len(members), size):
            yield Group(table, members[first : first + size])


def march_slice(batch: Batch, marched: Marched, part: Group) -> None:
    """March a slice of a batch in the calling thread; no other member is touched."""
    table = part.table
    march_members(
        part.members,
        batch.parameters,
        marched.states,
        marched.statuses,
        table.time,
        table.channels,
        np.full(len(table.time), -1),
        np.recarray(1, dtype=OUTPUT_DTYPE),
        np.zeros((1, len(SWITCHES), 2)),
        empty_record(Scratch),
    )


def member_figures(marched: Marched) -> xr.Dataset:
    """Return the summary figures of a batch.

    Parameters
    ----------
    marched : Marched
        What `march_batch` left.

    Returns
    -------
    xarray.Dataset
        Over `member`: the figures of `summarise` that need no rows, by the same names and equal to the last bit, not a
        number where a race has none; and `status` as text. The figures of a member that failed are those up to its
        failure.
    """
    found = state_figures(marched.states)
    texts = np.array([failure_sentence(status)[0] for status in STATUSES])
    found["status"] = texts[marched.statuses]
    dims = "member", "node"
    variables = {name: (dims[: v.ndim], v, attributes(SUMMARY_FIGURES[name])) for name, v in found.items()}
    return xr.Dataset(variables, {"node": ("node", np.array(NODES), {"long_name": "oil node"})})
