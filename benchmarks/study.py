"""What a study costs: Dask against threads, a task, a shard, the gathering, and the memory of 100,000 races.

    python benchmarks/study.py [--quick]

Checks accuracy first: members all over the study have the figures of `simulate` of their race alone, to the last bit,
over threads and over Dask. Then Dask with as many workers of one thread as there are cores is timed against as many
threads, in turns, everything compiled and loaded in all of them; a task is one that does nothing. Memory is the peak
of a process of its own, all of it, from the start to the gathered file. Needs Linux and `distributed`. Prints JSON
lines with name, value and unit; times and ratios are medians.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import xarray as xr
from distributed import Client, LocalCluster

import ullage as ul
from batch import RACE, resident
from figures import FEWER_REPEATS, REPEATS, SCENARIO, show
from ullage.results.summary import STATE_FIGURES, summarise
from ullage.study.gather import gather
from ullage.study.ledger import Ledger, open_ledger
from ullage.study.run import run_shards
from ullage.study.shard import march_shard, save_shard

STUDY = """\
format = 1
title = "Ten minutes with three inputs unsure (invented data)"
scenario = "race.toml"

[[axis]]
key = "cap.relief_pressure"
low = "6 psi"
high = "20 psi"

[[axis]]
key = "reservoir.fill"
low = 0.70
high = 0.92

[[axis]]
key = "pump.displacement"
low = "26 cm3"
high = "32 cm3"

[sampling]
method = "sobol"
members = {members}
"""
MEMBERS, FEWER_MEMBERS = 100_000, 2_048
TIMED, FEWER_TIMED = 16_384, 2_048
SAMPLED = 12
TASKS = 2_000
CORES = os.cpu_count() or 1


def study_of(folder: Path, members: int) -> ul.Study:
    """Write a study of ten-minute races and load it."""
    folder.mkdir(exist_ok=True)
    (folder / "race.toml").write_text(ul.load_scenario(SCENARIO).replace(RACE).to_toml(), encoding="utf-8")
    (folder / "study.toml").write_text(STUDY.format(members=members), encoding="utf-8")
    return ul.load_study(folder / "study.toml")


def members_that_differ(study: ul.Study, data: xr.Dataset) -> int:
    """Return how many of some members have not the figures of their race alone, to the last bit."""
    numbers = np.linspace(0, study.members - 1, SAMPLED).astype(np.int64)
    rows = study.design.values(numbers)
    alone = [
        summarise(ul.simulate(study.scenario.replace(dict(zip(study.design.keys, row, strict=True))))) for row in rows
    ]
    return sum(figures_of(data, number) != figures_in(found) for number, found in zip(numbers, alone, strict=True))


def figures_of(data: xr.Dataset, member: int) -> list[float | None]:
    """Return the figures of a member of a study, None where it has none."""
    row = data[list(STATE_FIGURES)].isel(member=member)
    values = [value for name in STATE_FIGURES for value in np.ravel(row[name].values).tolist()]
    return [None if np.isnan(value) else value for value in values]


def figures_in(summary: dict) -> list[float | None]:
    """Return the same figures of a race alone."""
    peaks = list(summary["peak_oil_temperature"].values())
    return [*peaks, *(summary[name] for name in STATE_FIGURES if name != "peak_oil_temperature")]


def seconds(call: Callable[[], object]) -> float:
    """Return how long a call takes [s]."""
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def marching(study: ul.Study, folder: Path, client: Client | None) -> float:
    """Return how long all shards of a study take, over threads or over workers [s]."""
    with tempfile.TemporaryDirectory(dir=folder) as fresh:
        ledger = open_ledger(study, fresh)
        return seconds(lambda: run_shards(ledger, ledger.missing(), client=client))


def nothing(number: int) -> int:
    """Do nothing, as a task."""
    return number


def empty_tasks(client: Client) -> float:
    """Return how long a task takes that does nothing, one of many at once [s]."""
    return seconds(lambda: client.gather(client.map(nothing, range(TASKS), pure=False))) / TASKS


def one_shard(study: ul.Study, folder: Path) -> tuple[float, float, float]:
    """Return what a shard takes: marching [s], writing [s], bytes."""
    path = folder / "one.h5"
    start = time.perf_counter()
    shard = march_shard(study, study.shards // 2)
    marched = time.perf_counter() - start
    written = seconds(lambda: save_shard(shard, path, study.hash))
    return marched, written, path.stat().st_size


def against_threads(folder: Path, quick: bool) -> bool:
    """Check, then print what Dask has of the speed of threads, and what a task and a shard take."""
    study = study_of(folder / "timed", FEWER_TIMED if quick else TIMED)
    with (
        LocalCluster(n_workers=CORES, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        over_threads = ul.run_study(study, folder / "threads")
        over_workers = ul.run_study(study, folder / "workers", client=client)
        different = members_that_differ(study, over_threads) + members_that_differ(study, over_workers)
        show("members_that_differ", different, "1")
        if different or not over_threads.identical(over_workers):
            return False
        repeats = FEWER_REPEATS if quick else REPEATS
        times = [(marching(study, folder, None), marching(study, folder, client)) for _ in range(repeats)]
        tasks = [empty_tasks(client) for _ in range(repeats)]
    show("study_races_per_second", study.members / statistics.median(each[0] for each in times), "1/s")
    show("workers", CORES, "1")
    show("dask_speed_over_threads", statistics.median(each[0] / each[1] for each in times), "1")
    show("task_overhead_ms", 1e3 * statistics.median(tasks), "ms")
    marched, written, size = zip(*[one_shard(study, folder) for _ in range(repeats)], strict=True)
    show("shard_members", len(study.shard_members(study.shards // 2)), "1")
    show("shard_march_ms", 1e3 * statistics.median(marched), "ms")
    show("shard_write_ms", 1e3 * statistics.median(written), "ms")
    show("shard_bytes", statistics.median(size), "B")
    return True


def large(members: int, folder: Path) -> None:
    """Print what a large study takes in this process: time, memory, files, bytes."""
    load = time.perf_counter()
    study = study_of(folder, members)
    loaded = time.perf_counter()
    ledger: Ledger = open_ledger(study, folder / "results")
    run_shards(ledger, ledger.missing())
    marched = time.perf_counter()
    gather(ledger)
    gathered = time.perf_counter()
    data = ul.open_results(ledger.directory)
    if int((data.status == "done").sum()) != members:
        raise SystemExit("a member failed: no figures")
    shards = [ledger.shard_file(number).stat().st_size for number in range(study.shards)]
    show("large_members", members, "1")
    show("large_load_s", loaded - load, "s")
    show("large_races_per_second", members / (marched - loaded), "1/s")
    show("large_gather_s", gathered - marched, "s")
    show("large_memory_mb", resident("VmHWM") / 1e6, "MB")
    show("large_shards", study.shards, "1")
    show("large_shard_bytes_per_member", sum(shards) / members, "B")
    show("large_result_bytes_per_member", ledger.study_file.stat().st_size / members, "B")


def main() -> int:
    """Check, then measure."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer repetitions and smaller studies")
    parser.add_argument("--large", type=int, metavar="MEMBERS", help="only the large study, in this process")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if arguments.large:
            large(arguments.large, Path(folder))
            return 0
        if not against_threads(Path(folder), arguments.quick):
            print("members differ: no timing", file=sys.stderr)
            return 1
    members = FEWER_MEMBERS if arguments.quick else MEMBERS
    subprocess.run([sys.executable, __file__, "--large", str(members)], check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
