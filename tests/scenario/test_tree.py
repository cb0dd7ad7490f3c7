import types
from fractions import Fraction

import numpy as np
import pytest

from support import TRUCK, truck
from ullage.errors import ScenarioError
from ullage.scenario.load import Scenario
from ullage.scenario.tree import tree_of


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (None, "a mapping of keys and values is wanted, got a value of type NoneType"),
        ([1], "a mapping of keys and values is wanted, got an array"),
        ("x", 'a mapping of keys and values is wanted, got "x"'),
        (3, "a mapping of keys and values is wanted, got 3"),
        ({3: 1}, "a key must be text, got 3"),
        ({"\ud800": 1}, 'a key must be text, got "\\ud800"'),
        ({"fluid": {None: 1}}, "a key must be text, got a value of type NoneType"),
    ],
)
def test_data_that_are_no_tree_are_a_fault(data, text):
    for call in (Scenario.from_dict, truck().replace):
        with pytest.raises(ScenarioError) as caught:
            call(data)
        assert [str(fault) for fault in caught.value.faults] == [text]


def test_numbers_of_other_libraries_are_numbers():
    changes = {"reservoir.fill": np.float64(0.5), "duty.laps": np.int64(2), "cooler.blockage": Fraction(1, 4)}
    other = truck({**changes, "reservoir.volume": np.float32(0.0078125), "cap.kind": np.str_("vented")})
    assert other.spec.reservoir.volume == 0.0078125
    assert (other.spec.reservoir.fill, other.spec.duty.laps, other.spec.cooler.blockage) == (0.5, 2, 0.25)
    assert Scenario.from_toml(other.to_toml()).spec == other.spec


def test_mappings_and_tuples_of_any_kind_make_a_tree_of_their_own():
    given = types.MappingProxyType({**TRUCK, "weather": types.MappingProxyType({"point": ()})})
    tree = tree_of(given)
    assert tree == {**TRUCK, "weather": {"point": []}}
    assert tree["duty"] is not TRUCK["duty"]
    assert Scenario.from_dict(given).spec.weather.point == ()


def test_wrong_changes_are_all_said():
    with pytest.raises(ScenarioError) as caught:
        truck().replace({"cap.kind.x": 1, "duty.segment.far.length": 1, "duty.segment.99999999999.length": 1})
    assert [str(fault) for fault in caught.value.faults] == [
        "cap.kind.x: no such key",
        'duty.segment.far.length: no element "far"; there are: 0',
        'duty.segment.99999999999.length: no element "99999999999"; there are: 0',
    ]


def test_fault_after_a_change_names_the_change_and_keeps_the_lines_of_the_rest():
    text = truck({"start.headspace_pressure": "1 barg"}).to_toml()
    line = text.split("\n").index('headspace_pressure = "1 barg"') + 1
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_toml(text, "f").replace({"cap.relief_pressure": "5 psi", "cooler.blockag": 1}, name="--set")
    assert [str(fault) for fault in caught.value.faults] == [
        "--set cooler.blockag: unknown key (did you mean 'blockage'?)",
        f'f:{line}: start.headspace_pressure: "1 barg" is above the relief pressure of the cap, 34.47 kPa (5 psi)',
    ]


def test_path_of_a_change_is_no_deeper_than_a_tree():
    with pytest.raises(ScenarioError, match=r"a\.a: is nested more than 20 deep"):
        truck({"a." * 5000 + "b": 1})
