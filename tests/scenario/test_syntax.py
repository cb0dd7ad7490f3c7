import pytest

from ullage.errors import ScenarioError
from ullage.scenario.load import Scenario
from ullage.scenario.syntax import MOST_SLIPS, read_tree

SLIPS = """\
format = 1
[fluid]
preset = ATF
[reservoir]
volume = 8 qt    # to the brim
fill = "120 %"
fill = "80 %"
[cap
kind = "sealed
relief_pressure = "16 psi"
"""


def test_slips_are_all_told_and_the_rest_is_read_behind_them():
    tree, faults = read_tree(SLIPS, "f")
    assert [str(fault) for fault in faults] == [
        'f:3: fluid.preset: text stands in quotes: preset = "ATF"',
        'f:5: reservoir.volume: text stands in quotes: volume = "8 qt"',
        "f:7: reservoir.fill: is given twice; first on line 6",
        "f:8: the name of a table stands in brackets: [cap]",
        "f:9: cap.kind: the text has no closing quote",
    ]
    assert tree == {
        "format": 1,
        "fluid": {"preset": "ATF"},
        "reservoir": {"volume": "8 qt", "fill": "120 %"},
        "cap": {"kind": "sealed", "relief_pressure": "16 psi"},
    }


def test_slips_come_together_with_wrong_values_in_the_order_of_the_lines():
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_toml(SLIPS, "f")
    assert [(fault.line, fault.key) for fault in caught.value.faults if fault.line] == [
        (3, "fluid.preset"),
        (5, "reservoir.volume"),
        (6, "reservoir.fill"),
        (7, "reservoir.fill"),
        (8, ""),
        (9, "cap.kind"),
    ]


def test_a_slip_alone_is_still_a_fault():
    with pytest.raises(ScenarioError, match="text stands in quotes"):
        Scenario.from_toml("title = Ironwood Flats\n")


@pytest.mark.parametrize("line", ["= 3", "a b = 1", 'a = "x" y', "a = [1, 2", "[a]]", "a = {b = 1", "a = '''x"])
def test_what_nobody_can_guess_ends_the_reading_with_its_line(line):
    with pytest.raises(ScenarioError) as caught:
        read_tree(f"format = 1\n{line}\n", "f")
    assert caught.value.faults[-1].text.startswith("not a TOML file: ")
    assert caught.value.faults[-1].line in (2, 3)


def test_text_of_slips_only_ends_after_some():
    with pytest.raises(ScenarioError) as caught:
        read_tree("\n".join(f"key{i} = some words" for i in range(100)), "f")
    assert len(caught.value.faults) == MOST_SLIPS


@pytest.mark.parametrize("text", ["a = 1\nb = 'x # y'\n", "[a]\nb = [\n1,\n2]\n", 'a = """\nb = c\n"""\n'])
def test_right_text_has_no_slip(text):
    assert read_tree(text, "f")[1] == ()
