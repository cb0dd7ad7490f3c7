"""Values that no person would write end in sentences too."""

import datetime
import math

import pytest

from support import TRUCK, truck
from ullage.errors import ScenarioError
from ullage.scenario.load import Scenario


def faults_of(call, *arguments):
    """Return the faults that a call raises."""
    with pytest.raises(ScenarioError) as caught:
        call(*arguments)
    return caught.value.faults


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (math.nan, "nan is not a finite number"),
        (-math.inf, "-inf is not a finite number"),
        (10**400, "a very large number is not a finite number"),
        (10**5000, "a very large number is not a finite number"),
        (
            datetime.time(1, 2),
            "01:02:00 is not text with a unit; a plain number or a percentage is wanted, such as 0.8",
        ),
        ({"a": {}}, "a table is not text with a unit; a plain number"),
        ("1e400", '"1e400" is not a finite number'),
        ("0.8\x1b[2J", "\"0.8\\x1b[2J\": '\\x1b[2J' is out of place; a plain number"),
        ("9" * 5000, f'"{"9" * 60}..." is too long for a number with a unit'),
        ("\ud800", '"\\ud800": not a number; a plain number'),
        ("0.8 \ud800", "\"0.8 \\ud800\": '\\ud800' is out of place; a plain number"),
    ],
    ids=range(11),
)
def test_hostile_value_is_a_sentence(value, text):
    (fault,) = faults_of(truck, {"reservoir.fill": value})
    assert str(fault).startswith(f"reservoir.fill: {text}")
    assert str(fault).isprintable()


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("two\nlines", '"two\\nlines" holds a control character, U+000A: write one plain line'),
        ("\x00", '"\\x00" holds a control character, U+0000: write one plain line'),
        ("\ud800", '"\\ud800" holds a control character, U+D800: write one plain line'),
        ("x" * 201, f'"{"x" * 60}..." is longer than 200 signs'),
        (3, "must be text in quotes, got 3"),
    ],
    ids=range(5),
)
def test_text_is_one_plain_line(value, text):
    (fault,) = faults_of(truck, {"title": value})
    assert fault.text == text


@pytest.mark.parametrize("laps", [10**400, -1, True, 1.0, "3"], ids=range(5))
def test_whole_number_is_a_whole_number(laps):
    (fault,) = faults_of(truck, {"duty.laps": laps})
    assert fault.text.startswith("must be a whole number from 1 to 1000")


@pytest.mark.parametrize("seed", ["7", -1, 7.5])
def test_wrong_seed_is_one_fault_and_hides_no_other(seed):
    found = faults_of(truck, {"duty.seed": seed, "duty.stop": [{"name": "pit", "after_lap": 9, "duration": "1 s"}]})
    assert [fault.key for fault in found] == ["duty.seed", "duty.stop.0.after_lap"]
    assert found[0].text.startswith("must be a whole number from 0")
    assert (", without quotes" in found[0].text) == (seed == "7")


def test_race_of_too_many_segments_is_refused_before_it_is_laid_out():
    (fault,) = faults_of(truck, {"duty.laps": 1000, "duty.segment": TRUCK["duty"]["segment"] * 1000})
    assert (fault.key, fault.text) == ("duty.laps", "1000 makes a race of 1000000 segments; the limit is 200000")


@pytest.mark.parametrize("key", ["", "a.b", 'say "x"', "two\nlines", "x" * 5000, "\x1b[2J"], ids=range(6))
def test_key_of_any_name_is_unknown_and_prints(key):
    for data in ({**TRUCK, key: 1}, {**TRUCK, "cap": {**TRUCK["cap"], key: 1}}):
        (fault,) = faults_of(Scenario.from_dict, data)
        assert fault.text == "unknown key"
        assert str(fault).isprintable()
        assert len(str(fault)) < 100
