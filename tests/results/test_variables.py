import pytest

from support import truck
from ullage.api import simulate
from ullage.results.summary import summarise
from ullage.results.variables import COORDINATES, EVENT_VARIABLES, MEASURED_VARIABLES, SUMMARY_FIGURES, VARIABLES

FLOW_UNITS = ("m3 s-1", "kg s-1", "W", "J")


def test_every_summary_figure_is_described_and_nothing_else_is():
    assert set(SUMMARY_FIGURES) == set(summarise(simulate(truck())))


@pytest.mark.parametrize("name", [name for name, variable in VARIABLES.items() if variable.units in FLOW_UNITS])
def test_every_flow_of_oil_air_or_energy_says_which_way_is_positive(name):
    assert VARIABLES[name].sign.endswith("positive")


def test_descriptions_are_not_repeated_under_two_names():
    tables = (VARIABLES, MEASURED_VARIABLES, EVENT_VARIABLES, COORDINATES)
    described = [variable.long_name for table in tables for variable in table.values()]
    assert len(set(described)) == len(described)
