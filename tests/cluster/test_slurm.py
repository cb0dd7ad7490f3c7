"""A study on a real Slurm of one node: as an array of jobs, and as Dask workers in jobs."""

import shlex
import sys

import pytest

import ullage as ul
from ground import differences, results_of, run_study_command, study_command
from slurm_node import run_array

pytestmark = pytest.mark.cluster


def test_an_array_of_jobs_runs_each_of_its_tasks_once(slurm, tmp_path):
    script = tmp_path / "job.sh"
    script.write_text("#!/bin/sh\necho $SLURM_ARRAY_TASK_ID of $SLURM_ARRAY_TASK_COUNT > said.$SLURM_ARRAY_TASK_ID\n")
    run_array(slurm, script, 3)
    said = {each.name: each.read_text() for each in tmp_path.glob("said.*")}
    assert said == {f"said.{task}": f"{task} of 3\n" for task in (1, 2, 3)}


def test_a_study_in_an_array_of_jobs_gives_the_bits_of_one_on_threads(slurm, study_file, undisturbed, tmp_path):
    folder = tmp_path / "results"
    study = shlex.join(study_command(study_file, folder))
    script = tmp_path / "job.sh"
    script.write_text(f"#!/bin/sh\n{study} --shard $SLURM_ARRAY_TASK_ID/$SLURM_ARRAY_TASK_COUNT\n")
    run_array(slurm, script, 3)
    said = "".join(each.read_text() for each in sorted(tmp_path.glob("*.out")))
    gathered = run_study_command(study_file, folder, "--gather", environment=slurm)
    assert gathered.returncode == 0, said + gathered.stdout + gathered.stderr
    assert differences(results_of(folder), undisturbed) == []


def test_a_study_on_dask_workers_in_jobs_gives_the_bits_of_one_on_threads(
    slurm, study_file, undisturbed, tmp_path, monkeypatch
):
    jobqueue = pytest.importorskip("dask_jobqueue")
    distributed = pytest.importorskip("distributed")
    for name, value in slurm.items():
        monkeypatch.setenv(name, value)
    with (
        jobqueue.SLURMCluster(
            n_workers=2,
            cores=1,
            processes=1,
            memory="1 GB",
            walltime="00:10:00",
            python=sys.executable,
            scheduler_options={"host": "127.0.0.1", "dashboard": False},
            worker_extra_args=["--host", "127.0.0.1"],
            log_directory=str(tmp_path),
            local_directory=str(tmp_path),
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        client.wait_for_workers(2, timeout=60)
        data = ul.run_study(ul.load_study(study_file), tmp_path / "results", client=client)
    assert differences(data.load(), undisturbed) == []
