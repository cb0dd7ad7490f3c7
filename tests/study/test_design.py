"""Which member gets which values: by its number and the seed alone, whoever asks and for how many."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import qmc

from study_files import GRID, sample, study
from ullage.study.axes import Listed, Spread
from ullage.study.design import Design, grid_of

FILL = Spread(("reservoir.fill",), 0.7, 0.9, "", False, "uniform")
LINE = Spread(("return_line.entrainment",), 1e-5, 1e-3, "", False, "log uniform")
CAP = Listed(("cap.relief_pressure",), (("4 psi",), ("9 psi",), ("14 psi",)))
PAIR = Listed(("cap.kind", "duty.laps"), (("sealed", 1), ("vented", 2)))
UNIT = Spread(("unit",), 0.0, 1.0, "", False, "uniform")  # its values are the shares themselves
SAMPLES = ("random", "latin hypercube", "sobol")


def shares(method, members, seed=7, dimensions=2, numbers=None):
    """Return the shares of members of a sample."""
    axes = tuple(Spread((f"unit{place}",), 0.0, 1.0, "", False, "uniform") for place in range(dimensions))
    asked = np.arange(members) if numbers is None else numbers
    return np.array(Design(axes, method, members, seed).values(asked), dtype=float)


def test_a_grid_has_every_combination_and_its_last_axis_goes_round_fastest():
    design = grid_of((PAIR, CAP))
    expected = [(*pair, *cap) for pair, cap in itertools.product(PAIR.rows, CAP.rows)]
    assert design.members == 6
    assert design.values(np.arange(6)) == expected
    assert design.values(np.array([5, 0, 3])) == [expected[5], expected[0], expected[3]]
    assert design.keys == ("cap.kind", "duty.laps", "cap.relief_pressure")


def test_a_table_has_the_rows_as_they_stand():
    design = Design((PAIR,), "table", 2, 0)
    assert design.values(np.array([1, 0])) == [("vented", 2), ("sealed", 1)]


@pytest.mark.parametrize("member", [0, 1, 77])
def test_a_random_member_hangs_on_seed_and_its_number_alone(member):
    stream = np.random.default_rng(np.random.SeedSequence(7, spawn_key=(member,)))
    # written with twelve digits
    np.testing.assert_allclose(shares("random", 100)[member], stream.random(2), rtol=5e-12)


@pytest.mark.parametrize("method", ["random", "sobol"])
def test_members_do_not_change_when_the_study_grows(method):
    assert np.array_equal(shares(method, 50), shares(method, 300)[:50])


@pytest.mark.parametrize("method", SAMPLES)
def test_another_seed_is_another_sample_and_the_same_seed_the_same(method):
    assert np.array_equal(shares(method, 16), shares(method, 16))
    assert not np.isclose(shares(method, 16, seed=8), shares(method, 16)).any()


@pytest.mark.parametrize("members", [1, 2, 3, 64, 100])
def test_sobol_members_are_those_of_scipy(members):
    engine = qmc.Sobol(3, rng=np.random.default_rng(np.random.SeedSequence(7)))
    expected = engine.random(128)[:members]
    # a Sobol number is a multiple of 2**-30 and may be 0; written with twelve digits
    np.testing.assert_allclose(shares("sobol", members, dimensions=3), expected, rtol=5e-12)


@pytest.mark.parametrize("method", SAMPLES)
def test_a_latin_hypercube_has_one_member_in_every_stratum_and_others_have_not_at_odd_sizes(method):
    strata = np.floor(shares(method, 101, dimensions=4) * 101)
    filled = [len(set(column)) == 101 for column in strata.T]
    assert filled == [method == "latin hypercube"] * 4


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(SAMPLES), st.lists(st.integers(0, 199), min_size=1, max_size=12))
def test_any_members_are_those_of_the_whole(method, asked):
    whole = shares(method, 200)
    assert np.array_equal(shares(method, 200, numbers=np.array(asked)), whole[asked])


def test_a_stretch_far_along_a_sequence_is_that_of_the_whole():
    asked = np.arange(3000, 3064)
    assert np.array_equal(shares("sobol", 4096, numbers=asked), shares("sobol", 4096)[asked])


def test_members_of_a_sample_have_the_value_of_each_axis_for_its_share():
    axes = (FILL, PAIR, LINE)
    found = Design(axes, "sobol", 64, 3).values(np.arange(64))
    engine = qmc.Sobol(3, rng=np.random.default_rng(np.random.SeedSequence(3)))
    share = engine.random(64)
    columns = [axis.drawn(share[:, place]) for place, axis in enumerate(axes)]
    assert found == [(*a, *b, *c) for a, b, c in zip(*columns, strict=True)]
    assert {row[1] for row in found} == {"sealed", "vented"}


def test_members_with_the_same_values_of_some_keys_have_the_same_code():
    design = grid_of((PAIR, CAP))
    assert design.codes([]).tolist() == [0] * 6
    assert design.codes(["cap.kind"]).tolist() == [0, 0, 0, 1, 1, 1]
    assert design.codes(["cap.relief_pressure"]).tolist() == [0, 1, 2, 0, 1, 2]
    assert design.codes(["duty.laps", "cap.relief_pressure"]).tolist() == list(range(6))


@pytest.mark.parametrize("method", SAMPLES)
def test_codes_of_a_sample_group_what_has_the_same_values(method):
    design = Design((FILL, PAIR, CAP), method, 60, 1)
    values = design.values(np.arange(60))
    codes = design.codes(["duty.laps", "cap.relief_pressure"]).tolist()
    groups = {(row[2], row[3]) for row in values}
    assert sorted(set(codes)) == list(range(len(groups)))
    assert len({(code, row[2], row[3]) for code, row in zip(codes, values, strict=True)}) == len(groups)
    assert design.codes(["reservoir.fill"]).tolist() == list(range(60))  # along a range no two are alike


def test_codes_of_a_table_group_rows_that_are_given_twice():
    rows = (("sealed", 1), ("vented", 1), ("sealed", 1))
    assert Design((Listed(PAIR.keys, rows),), "table", 3, 0).codes(["cap.kind"]).tolist() == [0, 1, 0]


LAPS = '[[axis]]\nkey = "duty.segment.0.engine_speed"\nvalues = ["2000 rpm", "3000 rpm", "4000 rpm"]\n'
RANGE = '[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.9\n'


@pytest.mark.parametrize("members", [1, 15, 16, 17, 97, 1023])
def test_shards_hold_every_member_once_and_keep_duty_cycles_together(tmp_path, members):
    made = study(tmp_path, sample(RANGE + LAPS, members, "random"))
    parts = [made.shard_members(shard) for shard in range(made.shards)]
    order = np.concatenate(parts)
    assert sorted(order.tolist()) == list(range(members))
    assert {len(part) for part in parts[:-1]} <= {made.shard_size}
    assert 1 <= len(parts[-1]) <= made.shard_size
    cycles = made.design.codes(made.cycle_keys)[order]
    assert made.cycle_keys == ("duty.segment.0.engine_speed",)
    assert np.all(np.diff(cycles) >= 0)


@pytest.mark.parametrize(
    ("members", "size"), [(1, 16), (16, 16), (2048, 16), (2049, 17), (131_072, 1024), (10**7, 1024)]
)
def test_shards_are_neither_tiny_nor_huge(tmp_path, members, size):
    made = study(tmp_path, sample(RANGE, members))
    assert made.shard_size == size
    assert made.shards == -(-members // size)


def test_a_study_of_one_cycle_is_cut_in_the_order_of_its_members(tmp_path):
    made = study(tmp_path, GRID)
    assert made.cycles == 1
    assert made.shard_members(0).tolist() == list(range(9))
