"""A figure as a sparse sum of polynomials of independent inputs: which terms to keep, and how much each explains."""

from __future__ import annotations

import itertools
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

# own choice: highest degree, most inputs in one term, and the norm that keeps few terms of high degree in several
# inputs; terms tried, by what each explains alone; terms kept at most, and tried in vain before the search ends
HIGHEST_DEGREE = 10
MOST_TOGETHER = 3
NORM = 0.6
MOST_TRIED = 600
MOST_TERMS = 80
IN_VAIN = 15
_TOLD = 1e-6  # share of its length that a polynomial has to have beside those of lower degree
_SAME = 1e-9  # share of a column's length below which it is a sum of columns already there


class Explained(NamedTuple):
    """Share of the spread that each term explains, and the share that no term explains."""

    shares: Floats
    unexplained: float


def terms(inputs: int) -> Whole:
    """Return the candidate terms.

    Parameters
    ----------
    inputs : int
        How many inputs there are.

    Returns
    -------
    array of shape (terms, inputs)
        Degree of each input in each term; the constant is left out.

    Notes
    -----
    Hyperbolic truncation: `sum(degree^q)^(1/q)` is at most the highest degree [1]_.

    References
    ----------
    .. [1] G. Blatman, B. Sudret, Adaptive sparse polynomial chaos expansion based on least angle regression, Journal of
       Computational Physics 230 (2011) 2345-2367.
    """
    found = []
    for together in range(1, min(MOST_TOGETHER, inputs) + 1):
        degrees = [
            each
            for each in itertools.product(range(1, HIGHEST_DEGREE + 1), repeat=together)
            if sum(degree**NORM for degree in each) ** (1.0 / NORM) <= HIGHEST_DEGREE + 1e-9
        ]
        for chosen in itertools.combinations(range(inputs), together):
            rows = np.zeros((len(degrees), inputs), dtype=np.int64)
            rows[:, chosen] = degrees
            found.append(rows)
    return np.concatenate(found)


def polynomials(places: Floats) -> Floats:
    """Evaluate polynomials of each input on a sample.

    Parameters
    ----------
    places : array of shape (members, inputs)
        Inputs, each from -1 to 1.

    Returns
    -------
    array of shape (members, inputs, degrees)
        Orthonormal over the values that each input takes in the sample, from degree 0 on. A degree that few values
        cannot tell from lower ones is zero.
    """
    return np.stack([_orthonormal(place) for place in places.T], axis=1)


def _orthonormal(place: Floats) -> Floats:
    basis = np.polynomial.legendre.legvander(place, HIGHEST_DEGREE)
    lengths = np.linalg.norm(basis, axis=0)
    orthogonal, triangle = np.linalg.qr(basis)
    diagonal = np.diagonal(triangle)
    told = np.abs(diagonal) > _TOLD * lengths
    return np.asarray(orthogonal * np.where(told, np.sign(diagonal), 0.0) * np.sqrt(len(place)))


def columns(made: Floats, degrees: Whole) -> Floats:
    """Multiply polynomials to terms.

    Parameters
    ----------
    made : array of shape (members, inputs, degrees)
        What `polynomials` returns, or some members of it.
    degrees : array of shape (terms, inputs)
        What `terms` returns, or some of it.

    Returns
    -------
    array of shape (members, terms)
        Values of the terms.
    """
    found = np.ones((len(made), len(degrees)))
    for number, degree in enumerate(degrees.T):
        has = degree > 0
        found[:, has] *= made[:, number, degree[has]]
    return found


def chosen_terms(made: Floats, figure: Floats) -> Whole:
    """Choose the terms that matter, one by one, by what is left of the figure.

    Parameters
    ----------
    made : array of shape (members, terms)
        What `columns` returns.
    figure : array of shape (members,)
        The figure.

    Returns
    -------
    array
        Numbers of the terms kept: as many as predict members left out best.

    Notes
    -----
    Orthogonal matching pursuit, ended by the leave-one-out error, which a linear fit gives without a second fit [1]_.

    References
    ----------
    .. [1] N. Luethen, S. Marelli, B. Sudret, Sparse polynomial chaos expansions: literature survey and benchmark,
       SIAM/ASA Journal on Uncertainty Quantification 9 (2021) 593-649.
    """
    left = figure - figure.mean()
    likely = np.argsort(-np.abs(left @ made), kind="stable")[:MOST_TRIED]
    rest = made[:, likely] - made[:, likely].mean(axis=0)
    squares = np.einsum("ij,ij->j", rest, rest)
    floor = _SAME * np.maximum(squares, 1.0)
    leverage = np.full(len(figure), 1.0 / len(figure))
    chosen: list[int] = []
    lowest, kept = _left_out(left, leverage), 0
    while len(chosen) < min(MOST_TERMS, len(figure) // 4) and len(chosen) - kept < IN_VAIN:
        gain = np.where(squares > floor, (left @ rest) ** 2 / np.maximum(squares, floor), 0.0)
        best = int(gain.argmax())
        if gain[best] == 0.0:
            break
        direction = rest[:, best] / np.sqrt(squares[best])
        chosen.append(best)
        left = left - direction * (direction @ left)
        leverage = leverage + direction**2
        along = direction @ rest
        rest -= np.outer(direction, along)
        squares = squares - along**2
        squares[best] = 0.0
        if (error := _left_out(left, leverage)) < lowest:
            lowest, kept = error, len(chosen)
    return likely[chosen[:kept]]


def _left_out(left: Floats, leverage: Floats) -> float:
    """Return the mean square error of each member as predicted from the others."""
    return float(np.mean((left / np.maximum(1.0 - leverage, 1e-3)) ** 2))


def explained(made: Floats, figure: Floats) -> Explained:
    """Measure what given terms explain on members that did not choose them.

    Parameters
    ----------
    made : array of shape (members, terms)
        The chosen terms on these members.
    figure : array of shape (members,)
        The figure of these members.

    Returns
    -------
    Explained
        Squares of the coefficients less what chance alone adds to them, over the variance of the figure; and the
        leave-one-out error over the same.
    """
    spread = float(figure.var())
    design: NDArray[Any] = np.column_stack([np.ones(len(figure)), made])
    orthogonal, triangle = np.linalg.qr(design)
    inverse = np.linalg.pinv(triangle)
    coefficients = inverse @ (orthogonal.T @ figure)
    left = figure - design @ coefficients
    leverage = np.einsum("ij,ij->i", orthogonal, orthogonal)
    noise = float(left @ left) / max(len(figure) - design.shape[1], 1)
    chance = noise * np.einsum("ij,ij->i", inverse, inverse)
    shares = (coefficients**2 - chance)[1:] / spread
    return Explained(shares, min(1.0, _left_out(left, leverage) / spread))
