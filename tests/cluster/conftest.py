"""Grounds for studies on clusters, and what a study gives that nothing disturbs."""

import pytest

import ullage as ul
from ground import results_of, run_study_command, write_study
from slurm_node import slurm_node, why_not
from started import clear, marked


@pytest.fixture(scope="session")
def slurm(tmp_path_factory):
    """Return the environment of a Slurm of one node that lives as long as the tests."""
    reason = why_not()
    if reason:
        pytest.skip(reason)
    with slurm_node(tmp_path_factory.mktemp("slurm")) as environment:
        yield environment


@pytest.fixture(scope="session")
def study_file(tmp_path_factory):
    """Return the file of a small study."""
    return write_study(tmp_path_factory.mktemp("study"))


@pytest.fixture(scope="session")
def shards(study_file):
    """Return how many shards the small study has."""
    return ul.load_study(study_file).shards


@pytest.fixture(scope="session")
def undisturbed(study_file):
    """Return what the small study gives on threads, from its first run to its end."""
    folder = study_file.parent / "undisturbed"
    done = run_study_command(study_file, folder)
    assert done.returncode == 0, done.stdout + done.stderr
    return results_of(folder)


@pytest.fixture
def environment(tmp_path):
    """Return an environment for processes of a test, none of which may outlive it."""
    yield marked(tmp_path)
    left = clear(tmp_path)
    assert not left, f"left behind: {left}"
