"""Which uncertain input moves a figure: main and total effects with intervals, from the races as they are."""

from __future__ import annotations

import json
import warnings
from typing import NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from scipy.stats import rankdata

from ullage.errors import UllageError
from ullage.results.study_axes import TABLE, Axis, axes_of, done, figure_values, sampling_of
from ullage.results.variables import SUMMARY_FIGURES
from ullage.study.sparse_polynomial import (
    Explained,
    Floats,
    Whole,
    chosen_terms,
    columns,
    explained,
    polynomials,
    terms,
)

MOST_FAILED = 0.05  # own choice: with more members missing, those left are no fair sample any more
LEAST_MEMBERS = 200  # own choice: a half has to choose its terms, and the other to judge them
MOST_INPUTS = 20  # own choice: so many have 11,000 candidate terms
_MOST_CHOOSING, _MOST_MEASURING = 2048, 4096  # members of a half, drawn at random, that are looked at
_RESAMPLES = 100
_WIDE = 1.96  # 95 % of a normal distribution, in standard deviations to either side
_SEED = 20


class _Half(NamedTuple):
    """Terms that one half of the members chose, on the other half."""

    degrees: Whole
    made: Floats
    figure: Floats


def effects(data: xr.Dataset, figure: str) -> xr.Dataset:
    """Part the spread of a figure among the inputs of a study.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study whose axes were varied independently.
    figure : str
        A summary figure; of the oil temperature the hottest place.

    Returns
    -------
    xarray.Dataset
        Over `input` (the first key of each axis): `main_effect`, the share of the variance that the input explains
        alone, and `total_effect`, that of all in which it has a part, each with the ends of its 95 % interval
        (`..._low`, `..._high`); `main_effect_by_classes`, a second look at the main effect that shares no step with the
        first. Attributes: `figure`, `unexplained` (share of the variance), `members`, `failed`, and `sentence`, which
        says why there are no effects if the figure does not vary.

    Raises
    ------
    UllageError
        If the members are a table, are too few, or more than 5 % of them failed; or if SALib is missing.

    Notes
    -----
    A plain sample, not one laid out for this purpose: the same races serve for bands too. The figure is fitted as a
    sparse sum of products of polynomials that are orthonormal over the sample; squares of coefficients are then shares
    of the variance [1]_. Terms are chosen on one half of the members and measured on the other, and the other way
    round, with no more than some thousand of either. Intervals are those of the coefficients, by drawing members
    again; what no term explains may belong to any total effect, so its upper end is raised by that share. The second
    look is the variance of the mean over classes of an input [2]_, by SALib. Inputs enter by their ranks: their
    distribution does not matter. Keys that change together, and text, enter by their row.

    References
    ----------
    .. [1] B. Sudret, Global sensitivity analysis using polynomial chaos expansions, Reliability Engineering and System
       Safety 93 (2008) 964-979.
    .. [2] E. Plischke, E. Borgonovo, C. L. Smith, Global sensitivity measures from given data, European Journal of
       Operational Research 226 (2013) 536-550.
    """
    axes = axes_of(data)
    kept = done(data) & np.isfinite(figure_values(data, figure))
    _refuse(data, axes, kept)
    values = figure_values(data, figure)[kept]
    head = {"figure": figure, "members": int(kept.sum()), "failed": int((~kept).sum()), "sentence": ""}
    if values.std() <= 1e-9 * max(abs(float(values.mean())), 1e-300):
        name = SUMMARY_FIGURES[figure].long_name
        nothing = f"no effect can be told: the {name} is the same in all members"
        return _labelled(axes, np.full((7, len(axes)), np.nan), {**head, "unexplained": np.nan, "sentence": nothing})
    places = np.column_stack([_places(data, axis)[kept] for axis in axes])
    halves = _halves(places, (values - values.mean()) / values.std())
    found = [explained(half.made, half.figure) for half in halves]
    unexplained = float(np.mean([each.unexplained for each in found]))
    shares = _shares(halves, found)
    wide = _WIDE * np.std([_shares(*_drawn(halves, draw)) for draw in range(_RESAMPLES)], axis=0)
    (main, total), (main_wide, total_wide) = shares, wide
    raised = total + total_wide + unexplained
    rows = [main, main - main_wide, main + main_wide, total, total - total_wide, raised, _by_classes(places, values)]
    return _labelled(axes, np.clip(rows, 0.0, 1.0), {**head, "unexplained": unexplained})


def _refuse(data: xr.Dataset, axes: list[Axis], kept: NDArray[np.bool_]) -> None:
    """Refuse what no honest effects can be told from."""
    missing = int((~kept).sum())
    if sampling_of(data) == TABLE:
        raise UllageError(
            "effects need inputs that were varied independently; the members of a table may hang together"
        )
    if len(axes) > MOST_INPUTS:
        raise UllageError(f"effects of {len(axes)} inputs: at most {MOST_INPUTS} can be told apart; vary fewer")
    if missing > MOST_FAILED * len(kept):
        raise UllageError(
            f"{missing} of {len(kept)} members failed or have no such figure, more than {100.0 * MOST_FAILED:.0f} %: "
            "those left are no fair sample; narrow the ranges till the races can be run"
        )
    if len(kept) - missing < LEAST_MEMBERS:
        raise UllageError(
            f"effects need {LEAST_MEMBERS} members or more, this study has {len(kept) - missing}: raise `members`"
        )


def _places(data: xr.Dataset, axis: Axis) -> Floats:
    """Return where each member stands in an axis, from -1 to 1 by rank."""
    columns_of_axis = [data[name].values for name in axis.coordinates]
    if len(columns_of_axis) == 1 and np.issubdtype(columns_of_axis[0].dtype, np.number):
        order = columns_of_axis[0]
    else:
        rows = list(zip(*(column.tolist() for column in columns_of_axis), strict=True))
        numbers = {row: number for number, row in enumerate(dict.fromkeys(rows))}
        order = np.array([numbers[row] for row in rows])
    return np.asarray(2.0 * (rankdata(order) - 0.5) / len(order) - 1.0)


def _halves(places: Floats, values: Floats) -> list[_Half]:
    degrees = terms(places.shape[1])
    made = polynomials(places)
    order = np.random.default_rng(_SEED).permutation(len(values))
    first, second = order[::2], order[1::2]
    pairs = []
    for chooses, measures in ((first, second), (second, first)):
        few, many = chooses[:_MOST_CHOOSING], measures[:_MOST_MEASURING]
        kept = degrees[chosen_terms(columns(made[few], degrees), values[few])]
        pairs.append(_Half(kept, columns(made[many], kept), values[many]))
    return pairs


def _shares(halves: list[_Half], found: list[Explained]) -> Floats:
    """Return main and total effects, the mean of both halves."""
    both = [_of_half(half.degrees, each.shares) for half, each in zip(halves, found, strict=True)]
    return np.asarray(np.mean(both, axis=0))


def _of_half(degrees: Whole, shares: Floats) -> Floats:
    has = degrees > 0
    alone = has & (has.sum(axis=1) == 1)[:, None]
    return np.array([shares @ alone, shares @ has])


def _drawn(halves: list[_Half], draw: int) -> tuple[list[_Half], list[Explained]]:
    """Draw the members of each half again, with repetition."""
    generator = np.random.default_rng([_SEED, draw])
    again = []
    for half in halves:
        members = generator.integers(len(half.figure), size=len(half.figure))
        again.append(half._replace(made=half.made[members], figure=half.figure[members]))
    return again, [explained(half.made, half.figure) for half in again]


def _by_classes(places: Floats, values: Floats) -> Floats:
    try:
        from SALib.analyze import delta  # an extra: only who asks for effects needs it
    except ImportError:
        raise UllageError("effects need SALib, which is an extra: pip install 'ullage[effects]'") from None
    names = [str(number) for number in range(places.shape[1])]
    problem = {"num_vars": len(names), "names": names, "bounds": [[-1.0, 1.0]] * len(names)}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = delta.analyze(problem, places, values, num_resamples=2, method="sobol", seed=_SEED)
    return np.asarray(found["S1"], dtype=np.float64)


def _labelled(axes: list[Axis], rows: Floats, attributes: dict[str, object]) -> xr.Dataset:
    names = [
        ("main_effect", "share of the variance that the input explains alone"),
        ("main_effect_low", "lower end of the 95 % interval of the main effect"),
        ("main_effect_high", "upper end of the 95 % interval of the main effect"),
        ("total_effect", "share of the variance in which the input has a part"),
        ("total_effect_low", "lower end of the 95 % interval of the total effect"),
        ("total_effect_high", "upper end of the 95 % interval of the total effect"),
        ("main_effect_by_classes", "main effect by means over classes, a second look"),
    ]
    variables = {
        name: ("input", row, {"units": "1", "long_name": words}) for (name, words), row in zip(names, rows, strict=True)
    }
    inputs = ("input", np.array([axis.keys[0] for axis in axes]), {"long_name": "varied key"})
    together = json.dumps([list(axis.keys) for axis in axes])
    return xr.Dataset(variables, {"input": inputs}, {**attributes, "keys": together})
