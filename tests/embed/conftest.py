"""A unit of the test truck, made once, and a maker of its instances, which are freed at the end of a test."""

import pytest

from embed.units import Instance, every_key, exported


@pytest.fixture(scope="session")
def unit_file(tmp_path_factory):
    return exported(every_key(), tmp_path_factory.mktemp("unit"))


@pytest.fixture
def instances(unit_file):
    """Return a maker of instances."""
    made = []

    def make(file=unit_file, **arguments):
        made.append(Instance(file, **arguments))
        return made[-1]

    yield make
    for instance in made:
        instance.slave.freeInstance()
