"""A study on a real Slurm of one node: as an array of jobs, and as Dask workers in jobs."""

import pytest
from slurm_node import run_array

pytestmark = pytest.mark.cluster


def test_an_array_of_jobs_runs_each_of_its_tasks_once(slurm, tmp_path):
    script = tmp_path / "job.sh"
    script.write_text("#!/bin/sh\necho $SLURM_ARRAY_TASK_ID of $SLURM_ARRAY_TASK_COUNT > said.$SLURM_ARRAY_TASK_ID\n")
    run_array(slurm, script, 3)
    said = {each.name: each.read_text() for each in tmp_path.glob("said.*")}
    assert said == {f"said.{task}": f"{task} of 3\n" for task in (1, 2, 3)}
