"""Shards over the workers of a Dask scheduler. A task is a directory and a number: no worker holds what others need."""

from __future__ import annotations

import functools
import logging
import time
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import CancelledError
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from ullage.errors import UllageError
from ullage.study.ledger import Ledger, StudyError, study_in
from ullage.study.plan import Study
from ullage.study.shard import Done, do_shard

if TYPE_CHECKING:
    from distributed import Client, Future

_CONNECT = 10  # time that a scheduler gets to answer [s]
_LOOK = 0.05  # between looks at what has come in [s]
_PATIENCE = 5.0  # without a worker before it is said [s]
_GO_ON = "go on with --resume"


class Watcher(Protocol):
    """Who is told how a study goes on, in the thread that runs it."""

    def done(self, done: Done) -> None:
        """Take note of a shard that is on disk."""

    def waiting(self, reason: str) -> None:
        """Take note of what the study waits for."""


class Silent:
    """One who keeps it to himself."""

    def done(self, done: Done) -> None:
        """Keep silent."""

    def waiting(self, reason: str) -> None:
        """Keep silent."""


def connected(address: str) -> Client:
    """Return a client of a Dask scheduler.

    Parameters
    ----------
    address : str
        Such as "tcp://10.0.0.5:8786".

    Returns
    -------
    distributed.Client
        The client.

    Raises
    ------
    StudyError
        If Dask is not installed, or no scheduler answers.
    """
    try:
        import distributed
    except ImportError:
        raise StudyError("Dask is not installed: pip install 'ullage[cluster]'") from None
    for speaker in ("distributed", "distributed.client"):  # what they lose is said in our words
        logging.getLogger(speaker).setLevel(logging.CRITICAL)
    try:
        return distributed.Client(address, timeout=_CONNECT)
    except (OSError, ValueError, TypeError, RuntimeError, MemoryError) as error:
        reason = "what answers there is no scheduler" if isinstance(error, MemoryError) else error
        raise StudyError(f"no Dask scheduler at {address}: {reason}") from None


def done_by_workers(ledger: Ledger, shards: Sequence[int], client: Client, watcher: Watcher) -> Generator[Done]:
    """March shards over workers.

    Parameters
    ----------
    ledger : Ledger
        The directory of the study; workers see it by the same path.
    shards : sequence of int
        Numbers of shards.
    client : distributed.Client
        Client of the scheduler.
    watcher : Watcher
        Told when there is no worker.

    Yields
    ------
    Done
        Each shard that is on disk. What a lost worker had is given to others; a shard over which workers died is
        tried once more when the others are done.

    Raises
    ------
    StudyError
        If the scheduler is lost, the workers have another version or another folder, or a shard kills its workers.
    """
    _refuse_other_versions(client)
    deadly: list[int] = []
    yield from _done(ledger, shards, client, watcher, deadly)
    again: list[int] = []
    yield from _done(ledger, deadly, client, watcher, again)
    if again:
        named = ", ".join(map(str, again[:10])) + (" ..." if len(again) > 10 else "")
        why = f"workers died over shards {named}: look for too little memory or a time limit, then {_GO_ON}"
        raise StudyError(f"{ledger.progress()}; {why}")


def _done(
    ledger: Ledger, shards: Sequence[int], client: Client, watcher: Watcher, deadly: list[int]
) -> Generator[Done]:
    from distributed import KilledWorker

    folder, name = str(ledger.directory), ledger.study.hash
    address = client.scheduler.address if client.scheduler else "its address"
    mapped = client.map(march_for, [folder] * len(shards), [name] * len(shards), [*shards], pure=False)
    futures: dict[Future[Done], int] = dict(zip(mapped, shards, strict=True))
    try:
        for future in _as_they_come(client, [*futures], watcher):
            error = future.exception()
            if isinstance(error, KilledWorker):
                deadly.append(futures[future])
            elif error is not None:
                raise error
            else:
                yield _seen_here(ledger, future.result())
    except (CancelledError, OSError) as error:
        text = f"the scheduler at {address} was lost ({type(error).__name__}): {ledger.progress()}"
        raise StudyError(f"{text}; start it again, then {_GO_ON}") from None
    except RuntimeError as error:
        raise StudyError(f"the workers cannot take tasks: {error}; scheduler and workers need this ullage") from None
    finally:
        if client.status == "running":
            client.cancel([*futures])


def _as_they_come(client: Client, futures: list[Future[Done]], watcher: Watcher) -> Iterator[Future[Done]]:
    """Go through futures as they end; look for workers meanwhile, for without any nothing ever ends."""
    from distributed import as_completed

    coming = as_completed(futures)
    since = time.monotonic()
    while coming.count():
        if came := coming.next_batch(block=False):
            yield from came
            since = time.monotonic()
        elif time.monotonic() - since > _PATIENCE:
            if client.status == "running" and not client.scheduler_info()["workers"]:
                watcher.waiting("the scheduler has no worker yet")
            since = time.monotonic()
        else:
            time.sleep(_LOOK)


def _refuse_other_versions(client: Client) -> None:
    here = version("ullage")
    there = {str(found) for found in client.run(version, "ullage", on_error="return").values()} - {here}
    if there:
        raise StudyError(f"workers need ullage {here} as here, they have: {', '.join(sorted(there))}")


def _seen_here(ledger: Ledger, done: Done) -> Done:
    if not ledger.shard_file(done.shard).is_file():
        raise StudyError(f"{ledger.directory}: what workers write there is not seen here: take a folder that all share")
    return done


def march_for(directory: str, study_hash: str, shard: int) -> Done:
    """March a shard on a worker.

    Parameters
    ----------
    directory : str
        Directory of the study.
    study_hash : str
        Hash of the study.
    shard : int
        Number of the shard.

    Returns
    -------
    Done
        What is on disk now.
    """
    try:
        return do_shard(Ledger(_study(directory, study_hash), Path(directory)), shard)
    except UllageError:
        raise
    except OSError as error:
        text = f"{directory}: a worker cannot use it ({error.strerror or error}): take a folder that all share"
        raise StudyError(text) from None
    except Exception as error:  # one that cannot be sent on would leave the study waiting for ever
        raise StudyError(f"shard {shard} ended in an internal error: {error!r}; report it") from None


@functools.lru_cache(maxsize=2)
def _study(directory: str, study_hash: str) -> Study:
    return study_in(Path(directory), study_hash)
