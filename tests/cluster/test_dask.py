"""A study on Dask whose workers and scheduler are killed: it ends with the same bits, or in a sentence."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time

import pytest

import ullage as ul
from ground import complete, differences, results_of, run_study_command, study_command
from started import stop, wait_for

dask = pytest.importorskip("dask")
distributed = pytest.importorskip("distributed")
pytestmark = pytest.mark.cluster


@pytest.fixture
def own_scheduler(tmp_path, environment):
    """Return a scheduler process with two worker processes, and its address."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        port = trial.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    scheduler = ["distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]
    worker = ["distributed.cli.dask_worker", address, "--nthreads", "1", "--no-dashboard", "--death-timeout", "30"]
    log = (tmp_path / "dask.log").open("w")
    started = [
        subprocess.Popen([sys.executable, "-m", *each], env=environment, cwd=tmp_path, stdout=log, stderr=log)
        for each in (scheduler, worker, worker)
    ]
    yield started[0], address
    for process in reversed(started):
        stop(process)
    log.close()


def test_a_worker_killed_in_the_middle_changes_nothing(study_file, shards, undisturbed, tmp_path):
    folder = tmp_path / "results"
    left = []

    def kill(pid):
        assert wait_for(lambda: bool(complete(folder)), 60.0)
        os.kill(pid, signal.SIGKILL)
        left.append(shards - len(complete(folder)))

    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        killer = threading.Thread(target=kill, args=(min(client.run(os.getpid).values()),))
        killer.start()
        data = ul.run_study(ul.load_study(study_file), folder, client=client)
        killer.join()
    assert left[0] > 0, "the worker was killed after the end"
    assert differences(data.load(), undisturbed) == []
    assert differences(results_of(folder), undisturbed) == []


DEADLY = """\
import os, signal
from ullage.study import shard, workers
def deadly(ledger, number, *rest):
    return os.kill(os.getpid(), signal.SIGKILL) if number == 3 else shard.do_shard(ledger, number, *rest)
workers.do_shard = deadly
"""


def test_a_shard_that_kills_every_worker_is_named_and_the_others_are_done(study_file, shards, undisturbed, tmp_path):
    folder = tmp_path / "results"
    (tmp_path / "deadly.py").write_text(DEADLY)
    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 1}),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, preload=[str(tmp_path / "deadly.py")]
        ) as cluster,
        distributed.Client(cluster) as client,
        pytest.raises(ul.StudyError, match=f"{shards - 1} of {shards} shards.* over shards 3:.*--resume"),
    ):
        ul.run_study(ul.load_study(study_file), folder, client=client)
    assert not (folder / "shards" / "000003.h5").exists()
    data = ul.run_study(ul.load_study(study_file), folder, resume=True)
    assert differences(data.load(), undisturbed) == []


def test_a_killed_scheduler_ends_in_a_sentence_and_the_study_goes_on_elsewhere(
    own_scheduler, study_file, shards, undisturbed, tmp_path, environment
):
    scheduler, address = own_scheduler
    folder = tmp_path / "results"
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    command = study_command(study_file, folder, "--scheduler", address)
    process = subprocess.Popen(command, env=environment, **pipes)
    assert wait_for(lambda: bool(complete(folder)), 60.0)
    scheduler.kill()
    _, errors = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "Traceback" not in errors, errors
    assert "scheduler" in errors
    assert "--resume" in errors
    assert 0 < len(complete(folder)) < shards
    assert run_study_command(study_file, folder, "--resume", environment=environment).returncode == 0
    assert differences(results_of(folder), undisturbed) == []


def test_an_address_without_a_scheduler_is_named_within_half_a_minute(study_file, tmp_path, environment):
    with socket.socket() as silent:  # bound, and nobody listens
        silent.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        began = time.monotonic()
        said = run_study_command(study_file, tmp_path / "results", "--scheduler", address, environment=environment)
    assert time.monotonic() - began < 30
    assert said.returncode in (1, 2)
    assert "Traceback" not in said.stderr
    assert address in said.stderr
