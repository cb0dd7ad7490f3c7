"""What a study is made from, what its hash hangs on, and files that are none."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from study_files import CAPS, FILLS, GRID, HEAD, faults, sample, study, write_study
from ullage.scenario.toml_text import write_toml
from ullage.study.load import load_study, study_of

RANGE = '[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.9\n'
SPEEDS = '[[axis]]\nkey = "duty.segment.0.engine_speed"\nlow = "2000 rpm"\nhigh = "4000 rpm"\n'
SAMPLING = '[sampling]\nmethod = "sobol"\nmembers = 4\n'
TRACES = '[traces]\nvariables = ["oil_temperature"]\n'
TABLE = 'table = "members.csv"\n'
PLAIN = "needs plain values: text in quotes, numbers, true or false"


def axis(key, rest):
    return f'[[axis]]\nkey = "{key}"\n{rest}\n'


def test_a_table_gives_whole_numbers_where_they_are_wanted(tmp_path):
    file = write_study(tmp_path, TABLE)
    (tmp_path / "members.csv").write_text("duty.laps,reservoir.fill\n1,0.8\n2,0.9\n")
    assert load_study(file).design.values(np.arange(2)) == [(1, "0.8"), (2, "0.9")]


def test_a_grid_beyond_all_bounds_is_refused_with_its_size(tmp_path):
    ends = {"reservoir.fill": (0.7, 0.8), "pump.drive_ratio": (0.6, 0.8), "cooler.blockage": (0.1, 0.2)}
    text = "".join(axis(key, f"low = {low}\nhigh = {high}\nsteps = 5000") for key, (low, high) in ends.items())
    assert faults(write_study(tmp_path, text)) == [
        (4, "axis", "would make 125,000,000,000 members, at most 100,000,000 are run: take fewer levels, or a sample")
    ]


def test_more_than_a_thousand_duty_cycles_are_refused_with_their_size(tmp_path):
    text = (
        "duty.segment.0.engine_speed: 1,001 duty cycles of 61 rows, 0.0 MB each, and at most 1,000 are built: "
        "list some `values` for it, or vary what the truck is, not what it meets"
    )
    assert faults(write_study(tmp_path, SPEEDS + "steps = 1001\n")) == [(4, "axis", text)]
    assert study(tmp_path, SPEEDS + "steps = 1000\n").cycles == 1000


def test_a_spread_over_what_the_truck_meets_needs_a_cycle_for_each_member(tmp_path):
    ((_, key, text),) = faults(write_study(tmp_path, sample(SPEEDS, 1024)))
    assert key == "axis"
    assert ": 1,024 duty cycles" in text
    assert study(tmp_path, sample(SPEEDS, 512)).cycles == 512


@pytest.mark.parametrize(
    ("text", "cycles", "keys"),
    [
        (GRID, 1, ()),
        (
            CAPS + axis("duty.segment.0.steering_load", 'values = ["5 bar", "15 bar"]'),
            2,
            ("duty.segment.0.steering_load",),
        ),
        (axis("duty.laps", "low = 1\nhigh = 3"), 3, ("duty.laps",)),
    ],
)
def test_keys_that_change_what_the_truck_meets_are_found(tmp_path, text, cycles, keys):
    made = study(tmp_path, text)
    assert (made.cycles, made.cycle_keys) == (cycles, keys)


def test_the_longest_race_is_that_of_the_member_that_drives_most(tmp_path):
    assert study(tmp_path, axis("duty.laps", "low = 1\nhigh = 3")).duration == 360.0


def test_the_scenario_is_looked_for_beside_the_study_file(tmp_path, monkeypatch):
    (tmp_path / "trucks").mkdir()
    (tmp_path / "elsewhere").mkdir()
    file = write_study(tmp_path, head=HEAD.replace("truck.toml", "trucks/truck.toml"))
    (tmp_path / "truck.toml").rename(tmp_path / "trucks" / "truck.toml")
    monkeypatch.chdir(tmp_path / "elsewhere")
    assert load_study(file).hash == load_study("../study.toml").hash


def test_changes_are_laid_over_the_scenario_before_anything_is_varied(tmp_path):
    made = study(tmp_path, '[change]\ncap.relief_pressure = "5 psi"\n"duty.laps" = 2\n' + FILLS)
    assert made.scenario.to_dict()["cap"]["relief_pressure"] == "5 psi"
    assert made.duration == 240.0


def test_the_hash_hangs_on_what_is_asked_and_not_on_how_it_is_written(tmp_path):
    base = sample(RANGE, 8)
    made = study(tmp_path, base).hash
    assert study(tmp_path, "# a comment\n\n" + base.replace(" = ", "=")).hash == made
    assert study(tmp_path / ".", base).hash == made
    for other in (
        sample(RANGE, 8, seed=2),
        sample(RANGE, 9),
        sample(RANGE, 8, "random"),
        sample(RANGE.replace("0.9", "0.91"), 8),
        base + TRACES,
        "[change]\nduty.laps = 2\n" + base,
    ):
        assert study(tmp_path, other).hash != made
    assert study(tmp_path, base, {"reservoir.compliance": "1e-10 m3/Pa"}).hash != made
    assert load_study(write_study(tmp_path, base, head=HEAD.replace("of a test", "of another test"))).hash != made


def test_the_hash_hangs_on_the_table_and_on_the_equations(tmp_path, monkeypatch):
    file = write_study(tmp_path, TABLE)
    found = set()
    for cells in ("0.8\n0.9\n", "0.8\n0.85\n", "0.8\n"):
        (tmp_path / "members.csv").write_text("reservoir.fill\n" + cells)
        found.add(load_study(file).hash)
    monkeypatch.setattr("ullage.study.load._CODE", "other equations")
    found.add(load_study(file).hash)
    assert len(found) == 4


def test_the_kept_text_makes_the_same_study(tmp_path):
    made = study(tmp_path, "# a comment\n" + sample(RANGE, 8) + TRACES)
    again = study_of(made.source)
    assert again.hash == made.hash
    assert again.design == made.design


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (b"", "is empty"),
        (b"\xff\xfeabc", "is UTF-16 text: save it as UTF-8"),
        (bytes(range(256)), "is not a text file: it holds a zero byte"),
        (b"#" * 5_000_001, "is larger than 5 MB"),
        (b"format = ", "not a TOML file"),
        (b"[[axis]]\n" * 6000, "has more than 5000 elements"),
    ],
)
def test_a_hostile_file_gives_one_clear_error(tmp_path, raw, text):
    file = tmp_path / "study.toml"
    file.write_bytes(raw)
    found = faults(file)
    assert len(found) == 1
    assert text in found[0][2]


def test_a_folder_or_a_missing_file_is_said(tmp_path):
    assert faults(tmp_path) == [(None, "", "cannot be read: it is a folder")]
    assert faults(tmp_path / "none.toml") == [(None, "", "cannot be read: no such file or directory")]


plain = st.one_of(st.text(max_size=8), st.integers(), st.floats(), st.booleans(), st.lists(st.integers(), max_size=2))
parts = {
    "axis": st.lists(
        st.fixed_dictionaries(
            {},
            optional={
                "key": st.sampled_from(["reservoir.fill", "cap.kind", "duty.laps", "duty.segment.0.x", "", "x"]),
                "keys": st.lists(st.sampled_from(["cap.kind", "reservoir.fill", "a.b"]), max_size=2),
                "values": st.lists(st.one_of(plain, st.just(0.8)), max_size=3),
                "low": st.one_of(plain, st.just(0.7)),
                "high": st.one_of(plain, st.just(0.9)),
                "steps": st.one_of(plain, st.integers(2, 4)),
                "distribution": st.sampled_from(["uniform", "normal", "lognormal", "x"]),
            },
        ),
        max_size=2,
    ),
    "sampling": st.fixed_dictionaries(
        {}, optional={"method": st.sampled_from(["grid", "sobol", "x"]), "members": st.one_of(plain, st.integers(1, 9))}
    ),
    "change": st.dictionaries(st.sampled_from(["reservoir.fill", "cap", "duty.laps", "x"]), plain, max_size=2),
}


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.fixed_dictionaries({}, optional=parts))
def test_any_file_is_a_study_that_its_text_makes_again_or_has_faults_in_words(tmp_path, tree):
    file = write_study(tmp_path, "", head=write_toml({"format": 1, "title": "x", "scenario": "truck.toml", **tree}))
    if told := faults(file):
        assert all(text for _, _, text in told)
        return
    made = load_study(file)
    assert len(made.design.values(np.arange(made.members))) == made.members
    assert study_of(made.source).hash == made.hash


def test_whole_numbers_of_a_sample_share_their_duty_cycles(tmp_path):
    asked = study(tmp_path, sample('[[axis]]\nkey = "duty.laps"\nlow = 1\nhigh = 3\n', 4096))
    assert asked.cycles == 3
    counts = np.unique([row[0] for row in asked.design.values(np.arange(4096))], return_counts=True)
    assert counts[0].tolist() == [1, 2, 3]
    assert counts[1].max() - counts[1].min() <= 2  # an even sequence over three equal parts
