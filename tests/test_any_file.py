"""Whatever stands in a file, the command ends with exit code 0 or 2 and a sentence, never with a traceback."""

import io
import json
import sys
import typing
from contextlib import redirect_stderr, redirect_stdout
from unittest import mock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from support import SCENARIOS, truck
from ullage import cli
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import nested_spec, quantity_of
from ullage.scenario.toml_text import write_toml

FILES = [path.read_text(encoding="utf-8") for path in SCENARIOS]
QUICK = settings(deadline=None, max_examples=200, derandomize=True)
LONG = settings(deadline=None, max_examples=3_000)

HOSTILE = [
    "nan",
    "-inf",
    "1e400",
    "9" * 400,
    "0x" + "f" * 200,
    "true",
    "2020-01-01",
    "07:00:00",
    "[]",
    "{}",
    "[[]]",
    "[" * 30 + "]" * 30,
    '{a = {b = "c"}}',
    '""',
    '"0"',
    '"1e400 psi"',
    '"nan L"',
    '"7,6 L"',
    '"16 psi"',
    '"-1 psig"',
    '"1e-320 m"',
    '"\\u0000"',
    '"\\u001b[2J"',
    '"\\u202e"',
    '"1 m**9**9**9"',
    '"1 ((((((m"',
    '"1 %"',
    '"1 :"',
    '"1:00:00"',
    "'''\n[pump]\nfill = 1\n'''",
    "1 # comment",
    "",
    '"',
    "'''",
]


def check(raw, *arguments):
    """Give bytes to `ullage check -` and return exit code, output and errors."""
    output, errors = io.StringIO(), io.StringIO()
    stdin = io.TextIOWrapper(io.BytesIO(raw))
    code = 0
    with (
        mock.patch.object(sys, "argv", ["ullage", "check", "-", *arguments]),
        mock.patch.object(sys, "stdin", stdin),
        redirect_stdout(output),
        redirect_stderr(errors),
    ):
        try:
            cli.main()
        except SystemExit as stopped:
            code = stopped.code
    return code, output.getvalue(), errors.getvalue()


def assert_said(raw):
    """Assert that bytes are understood, or refused in sentences that print anywhere."""
    code, _, errors = check(raw)
    assert code in (0, 2), errors
    assert "Traceback" not in errors
    assert "internal error" not in errors
    assert (errors == "") == (code == 0)
    assert all(line.isprintable() for line in errors.splitlines())
    assert all(len(line) < 1000 for line in errors.splitlines())
    if code == 2:
        faults = json.loads(check(raw, "--json")[1])["faults"]
        lines = raw.count(b"\n") + 1
        assert all(fault["line"] is None or 1 <= fault["line"] <= lines for fault in faults)


def values_of(model):
    """Return a strategy for the table of a specification: any of its keys, with right and wrong values."""
    keys = {name: value_of(model, name) for name in model.model_fields}
    return st.fixed_dictionaries({}, optional=keys) | st.dictionaries(st.text(max_size=5), ANYTHING, max_size=2)


def value_of(model, name):
    """Return a strategy for the value of a key of a specification."""
    if inner := nested_spec(model, name):
        table = st.deferred(lambda: values_of(inner))
        return st.one_of(table, st.lists(table, max_size=3), ANYTHING)
    if quantity := quantity_of(model, name):
        unit = quantity.high.partition(" ")[2]
        number = st.floats(*sorted(float(text.split()[0]) for text in (quantity.low, quantity.high)))
        return st.one_of(number.map(lambda value: f"{value!r} {unit}".strip()), st.just(quantity.low), ANYTHING)
    choices = [text for text in typing.get_args(model.model_fields[name].annotation) if isinstance(text, str)]
    return st.one_of(st.sampled_from([*choices, "pit", 1, 2]), ANYTHING)


ANYTHING = st.recursive(
    st.one_of(st.text(max_size=8), st.integers(-(10**30), 10**30), st.floats(), st.booleans()),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
    max_leaves=4,
)
TREES = values_of(ScenarioSpec).map(lambda tree: write_toml(tree).encode("utf-8", "replace"))


@st.composite
def mutated(draw):
    """Draw a delivered scenario with a few lines removed, doubled, moved, cut or given another value."""
    lines = draw(st.sampled_from([*FILES, truck().to_toml()])).split("\n")
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(lines) - 1))
        key, equals, _ = lines[place].partition("=")
        action = draw(st.sampled_from(["remove", "double", "move", "cut", "value", "value", "value"]))
        if action == "remove":
            del lines[place : place + draw(st.integers(1, 3))]
        elif action == "double":
            lines.insert(place, lines[place])
        elif action == "move":
            lines.insert(draw(st.integers(0, len(lines))), lines[place])
        elif action == "cut":
            lines[place] = lines[place][: draw(st.integers(0, 20))]
        elif equals:
            lines[place] = f"{key}= {draw(st.sampled_from(HOSTILE))}"
        lines = lines or [""]
    return "\n".join(lines).encode()


CAMPAIGN = st.one_of(mutated(), TREES, st.text().map(lambda text: text.encode("utf-8", "replace")), st.binary())


@QUICK
@given(st.text().map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_any_text_is_understood_or_refused_in_sentences(raw):
    assert_said(raw)


@QUICK
@given(st.binary())
def test_any_bytes_are_understood_or_refused_in_sentences(raw):
    assert_said(raw)


@QUICK
@given(mutated())
def test_any_change_of_a_right_file_is_understood_or_refused_in_sentences(raw):
    assert_said(raw)


@QUICK
@given(TREES)
def test_any_tree_of_known_keys_is_understood_or_refused_in_sentences(raw):
    assert_said(raw)


@pytest.mark.parametrize("value", HOSTILE, ids=range(len(HOSTILE)))
@pytest.mark.parametrize("key", ["title", "volume", "fill", "kind", "laps", "duration"])
def test_hostile_value_of_a_key_is_understood_or_refused_in_sentences(key, value):
    text = "\n".join(f"{key} = {value}" if line.startswith(f"{key} =") else line for line in FILES[0].split("\n"))
    assert_said(text.encode())


@pytest.mark.slow
@LONG
@given(CAMPAIGN)
def test_long_campaign_of_wrong_files_ends_in_sentences(raw):
    assert_said(raw)
