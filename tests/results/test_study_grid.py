import numpy as np
import pytest

from study_data import grid, study
from ullage.results.study_grid import grid_axes, laid_out, largest_block

FILLS, CAPS = np.array([0.7, 0.8, 0.9]), np.array([5, 10]) * 6894.757


def test_the_axes_with_most_values_come_first_and_are_in_shown_units():
    first, second = grid_axes(grid({"cap.relief_pressure": CAPS, "reservoir.fill": FILLS}), "us")
    assert first.name == "cold fill mark"
    np.testing.assert_allclose(first.values, [70.0, 80.0, 90.0])
    assert [second.text(place) for place in (0, 1)] == ["5 psi", "10 psi"]
    assert first.text(0) == "70 %"


def test_a_figure_lies_where_its_member_is():
    data = grid({"reservoir.fill": FILLS, "cap.relief_pressure": CAPS}, {"relief_openings": lambda f, c: 100 * f + c})
    across, up = grid_axes(data, "us")
    cells = laid_out(across, up, data.relief_openings.values, np.fmax)
    assert cells.shape == (2, 3)
    # the same sums, to rounding
    np.testing.assert_allclose(cells, 100 * FILLS[None, :] + CAPS[:, None], rtol=1e-12)


def test_other_axes_are_taken_at_their_worst():
    inputs = {"reservoir.fill": FILLS, "cap.relief_pressure": CAPS, "cap.kind": np.array(["sealed", "vented"])}
    data = grid(inputs, {"relief_openings": lambda _f, _c, k: np.where(k == "vented", 7.0, 0.0)})
    across, up, _ = grid_axes(data, "us")
    assert (laid_out(across, up, data.relief_openings.values, np.fmax) == 7.0).all()
    assert (laid_out(across, up, data.relief_openings.values, np.fmin) == 0.0).all()


def test_where_there_is_no_member_there_is_no_figure():
    data = grid({"reservoir.fill": FILLS, "cap.relief_pressure": CAPS}).isel(member=slice(1, None))
    across, up = grid_axes(data, "us")
    assert np.isnan(laid_out(across, up, data.relief_openings.values, np.fmax)[0, 0])


def test_text_and_keys_that_change_together_are_rows_with_names():
    rows = np.array([0, 1, 2, 0, 1, 2])
    inputs = {
        "reservoir.fill": np.repeat([0.7, 0.8], 3),
        "cooler.face_area": np.array([0.06, 0.09, 0.03])[rows],
        "cooler.oil_volume": np.array([1.6e-3, 2.1e-3, 1.6e-3])[rows],
    }
    axes = [{"keys": ["reservoir.fill"]}, {"keys": ["cooler.face_area", "cooler.oil_volume"]}]
    axis, _ = grid_axes(study(inputs, method="grid", axes=axes), "metric")
    assert axis.rows == ("600 cm2", "900 cm2", "300 cm2")  # the first key tells them apart
    assert axis.members.tolist() == rows.tolist()
    assert axis.name == "cooler face area and 1 more"


def test_a_random_sample_has_no_grid():
    assert grid_axes(study({"reservoir.fill": FILLS}, method="random"), "us") == []


def by_trying_all(free):
    most = 0
    rows, columns = free.shape
    for top in range(rows):
        for bottom in range(top + 1, rows + 1):
            for left in range(columns):
                for right in range(left + 1, columns + 1):
                    if free[top:bottom, left:right].all():
                        most = max(most, (bottom - top) * (right - left))
    return most


@pytest.mark.parametrize("seed", range(20))
def test_the_largest_block_is_free_and_none_is_larger(seed):
    free = np.random.default_rng(seed).random((6, 7)) < 0.7
    rows, columns = largest_block(free)
    assert free[rows, columns].all()
    assert free[rows, columns].size == by_trying_all(free)


def test_where_nothing_is_free_there_is_no_block():
    assert largest_block(np.zeros((3, 4), dtype=bool)) is None
