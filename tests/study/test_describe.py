import re

import pytest

from study_files import BOILING, CAPS, FILLS, GRID, MIXED, sample, study
from ullage.study.describe import describe_study, study_facts

FILL = '[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.85\n'
PAIR = '[[axis]]\nkeys = ["cap.kind", "duty.laps"]\nvalues = [["sealed", 1], ["vented", 2]]\n'


def lines(asked):
    return describe_study(asked).splitlines()


def test_a_grid_is_told_with_its_size_its_axes_and_its_first_members(tmp_path):
    found = lines(study(tmp_path, CAPS + FILLS + PAIR))
    assert found[:6] == [
        "study of a test (invented data)",
        "scenario: test truck (invented data)",
        "18 members (grid) over 2 duty cycles",
        "varied: cap.relief_pressure: 4 psi; 10 psi; 16 psi",
        "varied: reservoir.fill: 0.7; 0.8; 0.9",
        "varied: cap.kind with duty.laps: sealed with 1; vented with 2",
    ]
    assert found[7] == "  0: cap.relief_pressure 4 psi, reservoir.fill 0.7, cap.kind sealed, duty.laps 1"
    assert "checked all members: 0 refused" in found
    assert re.fullmatch(r"cost: [0-9.e-]+ ms a race here, in all [0-9]+:[0-9]{2}:[0-9]{2} \(h:min:s\) on .*", found[-2])
    assert found[-1] == "2 shards, 0.0 MB, 0.0 MB of it traces"


@pytest.mark.parametrize(
    ("distribution", "held"),
    [("normal", "95 %"), ("lognormal", "95 %"), ("uniform", "all"), ("triangular", "all"), ("log uniform", "all")],
)
def test_a_spread_is_told_with_what_its_ends_hold(tmp_path, distribution, held):
    found = lines(study(tmp_path, sample(FILL + f'distribution = "{distribution}"\n', 16)))
    assert f"varied: reservoir.fill: {distribution}, {held} within 0.7 to 0.85" in found
    assert "16 members (sobol, seed 1) over 1 duty cycle" in found
    assert not any(line.startswith("note") for line in found)


def test_a_sobol_sequence_of_an_uneven_size_is_remarked_upon(tmp_path):
    found = lines(study(tmp_path, sample(FILL, 20)))
    assert "note: a Sobol sequence is even at powers of two only: 16 or 32 members" in found
    assert not any(line.startswith("note") for line in lines(study(tmp_path, sample(FILL, 20, "random"))))


def test_many_values_are_told_in_short(tmp_path):
    found = lines(study(tmp_path, FILL + "steps = 16\n"))
    assert "varied: reservoir.fill: 16 values, 0.7, 0.71 ... 0.85" in found


def test_a_table_is_told_by_its_keys(tmp_path):
    (tmp_path / "members.csv").write_text("reservoir.fill,cap.kind\n0.8,sealed\n0.9,vented\n")
    found = lines(study(tmp_path, 'table = "members.csv"\n'))
    assert "2 members (table) over 1 duty cycle" in found
    assert "varied by a table of members: reservoir.fill, cap.kind" in found


def test_members_that_the_checks_refuse_are_counted_and_one_is_shown(tmp_path):
    text = describe_study(study(tmp_path, MIXED, BOILING))
    assert "checked all members: 2 refused (they become rows with the reason)" in text
    assert "  such as 1: reservoir.fill: 0.95 leaves no air space at the start" in text


def test_a_scenario_that_itself_fails_is_told(tmp_path):
    assert "the scenario itself fails: at 11.0 s the reservoir has run out of oil" in describe_study(
        study(tmp_path, MIXED, BOILING)
    )


def test_of_a_large_study_some_members_are_checked(tmp_path):
    found = lines(study(tmp_path, sample(FILL, 4096)))
    assert "checked 1,000 members: 0 refused" in found


def test_facts_identify_a_study(tmp_path):
    asked = study(tmp_path, GRID + PAIR)
    assert study_facts(asked) == {
        "study_hash": asked.hash,
        "scenario_hash": asked.scenario.hash,
        "members": 18,
        "shards": 2,
        "duty_cycles": 2,
        "keys": ("cap.relief_pressure", "reservoir.fill", "cap.kind", "duty.laps"),
    }
