import numpy as np
import pytest

from ullage.study.sparse_polynomial import HIGHEST_DEGREE, chosen_terms, columns, explained, polynomials, terms


def sample(members, inputs, seed=1):
    return np.random.default_rng(seed).uniform(-1.0, 1.0, (members, inputs))


def test_each_term_is_once_among_the_candidates_and_none_goes_over_the_highest_degree():
    found = terms(5)
    assert len(np.unique(found, axis=0)) == len(found)
    assert found.sum(axis=1).min() == 1
    assert found.max() == HIGHEST_DEGREE


def test_polynomials_of_one_input_are_orthonormal_over_the_sample():
    made = columns(polynomials(sample(400, 1) ** 3), terms(1))
    # a decomposition in double precision
    np.testing.assert_allclose(made.T @ made / 400, np.eye(HIGHEST_DEGREE), atol=1e-9)
    np.testing.assert_allclose(made.mean(axis=0), 0.0, atol=1e-9)


def test_two_values_can_tell_one_degree_only():
    made = columns(polynomials(np.where(sample(100, 1) > 0.2, 1.0, -1.0)), terms(1))
    assert (made[:, 1:] == 0.0).all()
    assert np.abs(made[:, 0]).max() > 0.0


def test_the_terms_that_made_a_figure_are_found():
    made = columns(polynomials(sample(500, 4)), terms(4))
    wanted = [3, 17, 60]
    figure = made[:, wanted] @ np.array([1.0, -2.0, 0.5])
    chosen = chosen_terms(made, figure)
    assert set(wanted) <= set(chosen[:8].tolist())  # products are not quite orthogonal over 500 members
    # of what the three terms make, nothing is left but rounding
    assert explained(made[:, chosen], figure).unexplained < 1e-9


def test_noise_chooses_hardly_any_term_that_others_confirm():
    made = columns(polynomials(sample(1000, 4)), terms(4))
    noise = np.random.default_rng(2).normal(size=1000)
    chosen = chosen_terms(made[:500], noise[:500])
    found = explained(made[500:][:, chosen], noise[500:])
    # chance is taken off, so what is left may have either sign and stays within some 1 / sqrt(500)
    assert abs(found.shares.sum()) < 0.1
    assert found.unexplained == pytest.approx(1.0, abs=0.1)
