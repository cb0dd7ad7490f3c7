import json
import tomllib

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ullage.scenario.toml_text import write_toml

SCALARS = st.one_of(st.text(), st.integers(-(2**63), 2**63 - 1), st.floats(), st.booleans())
TABLES = st.recursive(
    st.dictionaries(st.text(), st.one_of(SCALARS, st.lists(SCALARS)), max_size=4),
    lambda inner: st.dictionaries(
        st.text(), st.one_of(SCALARS, inner, st.lists(inner, min_size=1, max_size=3)), max_size=4
    ),
    max_leaves=8,
)


def sorted_text(tree):
    """Write a tree so that numbers of another type, signs of zero and NaN count, and the order of keys does not."""
    return json.dumps(tree, sort_keys=True)


@settings(deadline=None)
@given(st.text())
@example('"')
@example("\\")
@example('"""')
@example("a\nb\r\nc\td\x00\x1f\x7f")
@example("°C, µm, \U0001f6de\u2028")
def test_any_text_reads_back_as_value_and_as_key(text):
    tree = {"plain": text, text + "x": {text: [text, text]}}
    assert tomllib.loads(write_toml(tree)) == tree


@settings(deadline=None)
@given(TABLES)
def test_any_tree_reads_back(tree):
    assert sorted_text(tomllib.loads(write_toml(tree))) == sorted_text(tree)


def test_values_come_before_tables_and_tables_have_headers():
    tree = {"duty": {"segment": [{"x": {"y": 1}}, {"z": 2}], "laps": 2}, "format": 1, "on": True}
    assert write_toml(tree).split("\n") == [
        "format = 1",
        "on = true",
        "",
        "[duty]",
        "laps = 2",
        "",
        "[[duty.segment]]",
        "",
        "[duty.segment.x]",
        "y = 1",
        "",
        "[[duty.segment]]",
        "z = 2",
        "",
    ]


@pytest.mark.parametrize("value", [0.1, 1e300, 5e-324, 1e16, -0.0, 2**62, float("inf")])
def test_number_keeps_every_digit_and_its_type(value):
    read = tomllib.loads(write_toml({"value": value}))["value"]
    assert (repr(read), type(read)) == (repr(value), type(value))


def test_empty_tree_is_an_empty_file():
    assert tomllib.loads(write_toml({})) == {}
