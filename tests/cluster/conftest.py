"""Grounds for studies on clusters."""

import pytest
from slurm_node import slurm_node, why_not


@pytest.fixture(scope="session")
def slurm(tmp_path_factory):
    """Return the environment of a Slurm of one node that lives as long as the tests."""
    reason = why_not()
    if reason:
        pytest.skip(reason)
    with slurm_node(tmp_path_factory.mktemp("slurm")) as environment:
        yield environment
