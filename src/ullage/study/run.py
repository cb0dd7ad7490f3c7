"""Run a study: its shards over threads here, or over workers anywhere; then gather them."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Generator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from ullage.results.batch import batch_of, march_slice, unmarched
from ullage.results.store import ResultsError, open_results
from ullage.results.trace import trace_at
from ullage.scenario.compile import compile_problem
from ullage.study.gather import gather
from ullage.study.ledger import Ledger, StudyError, open_ledger
from ullage.study.plan import Study
from ullage.study.shard import Done, do_shard, load_shard
from ullage.study.workers import Silent, Watcher, done_by_workers

if TYPE_CHECKING:
    from distributed import Client


def run_study(
    study: Study,
    directory: str | Path,
    *,
    workers: int | None = None,
    client: Client | None = None,
    device: str = "cpu",
    resume: bool = False,
) -> xr.Dataset:
    """Run a study and gather it.

    Parameters
    ----------
    study : Study
        The study.
    directory : str or Path
        Where shards and results go; of this study alone. With a client, a folder that all workers see.
    workers : int or None
        Threads; None is one for each core.
    client : distributed.Client or None
        Workers of a Dask scheduler march instead of threads.
    device : str
        "cpu".
    resume : bool
        Whether to go on with what the directory holds of the study.

    Returns
    -------
    xarray.Dataset
        Figures over `member`; see `open_results`. A member that failed is a row with its reason.

    Raises
    ------
    StudyError
        If the directory holds another study or, without `resume`, a part of this one; or workers are lost. What is
        done stays.
    ResultsError
        If something cannot be written.
    ValueError
        If `workers` or `device` cannot be had.
    TypeError
        If `study` is not one.
    """
    if not isinstance(study, Study):
        raise TypeError(f"{study!r:.60} is no study: ul.load_study reads one from a file")
    if device != "cpu" or (workers is not None and workers < 1):
        raise ValueError(f"device is {device!r}, workers is {workers}; take device 'cpu' and whole numbers from 1 on")
    if workers is not None and client is not None:
        raise ValueError("workers are threads here, client are workers elsewhere: give one of them")
    ledger = open_ledger(study, directory)
    if not ledger.gathered:
        run_shards(ledger, to_do(ledger, resume=resume), workers=workers, client=client)
        gather(ledger)
    return open_results(ledger.directory)


def to_do(ledger: Ledger, *, resume: bool, part: tuple[int, int] = (1, 1)) -> list[int]:
    """Return the shards that are missing or damaged.

    Parameters
    ----------
    ledger : Ledger
        The directory of the study.
    resume : bool
        Whether it may hold a part already; what is there is then looked at.
    part : tuple of int
        Which of how many equal parts is meant, from 1 on.

    Returns
    -------
    list of int
        Numbers of shards.

    Raises
    ------
    StudyError
        If it holds a part and may not.
    """
    missing = {*ledger.missing()}
    if 0 < len(missing) < ledger.study.shards and not resume:
        raise StudyError(f"{ledger.directory}: {ledger.progress()}: add --resume to go on, or take another directory")
    first, step = part
    meant = range(first - 1, ledger.study.shards, step)
    return [shard for shard in meant if shard in missing or (resume and not _sound(ledger, shard))]


def _sound(ledger: Ledger, shard: int) -> bool:
    try:
        load_shard(ledger.study, shard, ledger.shard_file(shard), [*range(len(ledger.study.traced.columns))])
    except ResultsError:
        return False
    return True


def run_shards(
    ledger: Ledger,
    shards: Sequence[int],
    *,
    workers: int | None = None,
    client: Client | None = None,
    watcher: Watcher | None = None,
) -> None:
    """March shards of a study and write them.

    Parameters
    ----------
    ledger : Ledger
        The directory of the study.
    shards : sequence of int
        Numbers of shards.
    workers : int or None
        Threads; None is one for each core.
    client : distributed.Client or None
        Workers of a Dask scheduler march instead of threads.
    watcher : Watcher or None
        Told, in the calling thread, what is done.

    Raises
    ------
    StudyError
        If workers are lost.
    ResultsError
        If a shard cannot be written.
    """
    told = watcher or Silent()
    if client is not None:
        done = done_by_workers(ledger, shards, client, told)
    else:
        done = _done_by_threads(ledger, shards, workers)
    try:
        with contextlib.closing(done):
            for each in done:
                told.done(each)
    except ResultsError as error:
        raise StudyError(f"{error}; {ledger.progress()} and stay: mend that, then go on with --resume") from None


def _done_by_threads(ledger: Ledger, shards: Sequence[int], workers: int | None) -> Generator[Done]:
    """March over threads; an interrupt or an error ends all of them within a second or two."""
    if shards:
        _compile(ledger.study)
    stopped = threading.Event()
    pool = ThreadPoolExecutor(workers or os.cpu_count() or 1)
    try:
        futures = [pool.submit(do_shard, ledger, shard, stopped.is_set) for shard in shards]
        for future in as_completed(futures):
            yield future.result()
    finally:
        stopped.set()
        pool.shutdown(cancel_futures=True)


def _compile(study: Study) -> None:
    """Compile what threads will call, in the calling thread: an interrupt is heard here."""
    batch = batch_of([compile_problem(study.scenario.spec)])
    none = batch.groups[0]._replace(members=np.empty(0, dtype=np.int64))
    march_slice(batch, unmarched(batch), none)
    if len(study.traced.members):
        trace_at(compile_problem(study.scenario.spec), np.zeros(1))
