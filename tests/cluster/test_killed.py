"""A study that is killed, interrupted or ended at any moment: what is done stays, and resuming gives the same bits."""

import random
import signal
import subprocess
import time

import pytest

from ground import complete, differences, results_of, run_study_command, study_command
from started import living, wait_for

pytestmark = pytest.mark.cluster

MOMENTS = 20


def start(file, folder, environment, *options):
    """Start a study as a process, and return it at once."""
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    return subprocess.Popen(study_command(file, folder, *options), env=environment, **pipes)


def parts(folder):
    """Return what is there and is no result."""
    return [each.name for each in folder.rglob("*") if each.suffix == ".part" or each.name.startswith(".")]


def seconds_from_ledger_to_end(file, folder, environment):
    """Return how long a study takes once it has its directory."""
    process = start(file, folder, environment)
    assert wait_for((folder / "ledger.json").exists, 60.0)
    began = time.monotonic()
    process.communicate()
    return time.monotonic() - began


def test_a_study_killed_at_any_moment_ends_as_one_that_nothing_disturbed(
    study_file, undisturbed, tmp_path, environment
):
    work = seconds_from_ledger_to_end(study_file, tmp_path / "whole", environment)
    moments, in_the_middle = random.Random(1), 0
    for number in range(MOMENTS):
        folder = tmp_path / f"killed {number}"
        process = start(study_file, folder, environment)
        assert wait_for((folder / "ledger.json").exists, 60.0)
        time.sleep(moments.uniform(0.0, work))
        process.kill()
        process.communicate()
        assert wait_for(lambda: not living(tmp_path), 5.0), "an orphan"
        in_the_middle += bool(complete(folder)) and not (folder / "study.nc").exists()
        resumed = run_study_command(study_file, folder, "--resume", environment=environment)
        assert resumed.returncode == 0, resumed.stdout + resumed.stderr
        assert differences(results_of(folder), undisturbed) == []
        assert parts(folder) == []
    assert in_the_middle >= 3, "the moments missed the work"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupted_study_goes_on_from_what_is_done(number, study_file, shards, undisturbed, tmp_path, environment):
    folder = tmp_path / "interrupted"
    process = start(study_file, folder, environment)
    assert wait_for(lambda: len(complete(folder)) >= 2, 60.0)
    process.send_signal(number)
    _, errors = process.communicate(timeout=30)
    done = complete(folder)
    assert process.returncode == 130
    assert "Traceback" not in errors, errors
    assert len(done) < shards
    assert f"{len(done)} of {shards} shards" in errors
    assert "--resume" in errors
    times = {name: (folder / "shards" / name).stat().st_mtime_ns for name in done}
    assert run_study_command(study_file, folder, "--resume", environment=environment).returncode == 0
    assert {name: (folder / "shards" / name).stat().st_mtime_ns for name in done} == times  # nothing is done twice
    assert differences(results_of(folder), undisturbed) == []
