"""Figures of a race as a function of a vector, for optimisers: many points at once, marched as one batch."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ullage.embed.varied import PEAK, Variable, Vary, output_faults, read_variables
from ullage.errors import STATUS_DONE, ScenarioError, SimulationError
from ullage.kernel.state import NODES
from ullage.results.batch import Marched, batch_of, march_batch
from ullage.results.summary import state_figures
from ullage.scenario.compile import Tables, allowed_tolerance, compile_problems
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.load import Scenario, a_scenario
from ullage.scenario.variants import Variants

Point = tuple[float, ...]
Figures = NDArray[np.float64]

_AT_ONCE = 128  # races whose channel tables are held at one time
_KEPT_TABLES = 8
_KEPT_POINTS = 4096


class Outcome(NamedTuple):
    """What became of a point: its figures, and why it has none, or ""."""

    figures: Figures
    reason: str


class Objective:
    """Figures of a race as a function of a vector; `objective` makes it.

    Attributes
    ----------
    keys, units : tuple of str
        Keys that the numbers set, and the SI unit of each; pressure levels are "Pa gauge" or "Pa abs".
    outputs : tuple of str
        Figures that are returned.
    bounds : list of tuple
        Lowest and highest number of each key, SI units, as `scipy.optimize` takes them.
    x0 : array
        The scenario's own values; not a number where it has none.

    Notes
    -----
    The first axis of `x` is the variables, as in `scipy.optimize`. Points beyond the bounds are computed if the checks
    of a scenario accept them. The last few thousand points are remembered: a goal and its constraints may each ask for
    the same one. It can be used from several threads, and pickled.
    """

    def __init__(
        self,
        scenario: Scenario,
        variables: Sequence[Variable],
        outputs: Sequence[str],
        refused: float,
        tolerance_factor: float,
        workers: int | None,
    ) -> None:
        self.keys = tuple(variable.key for variable in variables)
        self.units = tuple(variable.unit or "1" for variable in variables)
        self.outputs = tuple(outputs)
        self.bounds = [(variable.low, variable.high) for variable in variables]
        self.x0 = np.array([variable.own for variable in variables])
        self._scenario = scenario
        self._variables = tuple(variables)
        self._variants = Variants(scenario, self.keys)
        self._refused = np.full(len(self.outputs), refused)
        self._tolerance_factor = tolerance_factor
        self._workers = workers
        self._tables: Tables = {}
        self._known: dict[Point, Outcome] = {}

    def __call__(self, x: ArrayLike) -> float | Figures:
        """Return the figures at one point or at many.

        Parameters
        ----------
        x : array of shape (n,) or (n, points)
            A number for each key, SI units; where one key is varied, a bare number is one point.

        Returns
        -------
        float or array
            For one point a float, or an array of shape (outputs,) if several are asked for; for many points an array
            of shape (points,) or (outputs, points). SI units; those of `summarise`, to the last bit. `refused` where
            the checks refuse a point or its race cannot be finished; not a number where a finished race has no such
            figure.

        Raises
        ------
        ValueError
            If `x` has another shape, or holds what is not a finite real number.
        """
        points = self._points(x)
        figures = np.array([outcome.figures for outcome in self._outcomes(points)]).reshape(-1, len(self.outputs)).T
        wanted = figures if len(self.outputs) > 1 else figures[0]
        if np.ndim(x) > 1:
            return wanted
        return wanted[:, 0] if len(self.outputs) > 1 else float(wanted[0])

    def reasons(self, x: ArrayLike) -> str | list[str]:
        """Say why points have no figures.

        Parameters
        ----------
        x : array of shape (n,) or (n, points)
            A number for each key, SI units.

        Returns
        -------
        str or list of str
            A sentence for each point that was refused or whose race cannot be finished, "" for the others.
        """
        found = [outcome.reason for outcome in self._outcomes(self._points(x))]
        return found if np.ndim(x) > 1 else found[0]

    def scenario(self, x: ArrayLike) -> Scenario:
        """Return the scenario at a point, to be simulated or written to a file.

        Parameters
        ----------
        x : array of shape (n,)
            A number for each key, SI units.

        Returns
        -------
        Scenario
            The checked scenario.

        Raises
        ------
        ScenarioError
            With every fault found, if the checks refuse it.
        ValueError
            If `x` is no single point.
        """
        if np.ndim(x) > 1:
            raise ValueError(f"one point is wanted: a vector of {len(self.keys)} numbers")
        values = self._written(self._points(x)[0])
        return self._scenario.replace(dict(zip(self.keys, values, strict=True)), bare_numbers=False)

    def _points(self, x: ArrayLike) -> list[Point]:
        if np.iscomplexobj(x):
            raise ValueError("x is complex; a race is not computed with complex numbers: take real differences")
        numbers = np.asarray(x, dtype=float) + 0.0  # no negative zero
        numbers = numbers.reshape(1) if numbers.ndim == 0 else numbers
        wanted = len(self.keys)
        if numbers.ndim not in (1, 2) or len(numbers) != wanted:
            raise ValueError(f"x has the shape {numbers.shape}; ({wanted},) or ({wanted}, points) is wanted")
        wrong = [key for key, row in zip(self.keys, numbers, strict=True) if not np.isfinite(row).all()]
        if wrong:
            raise ValueError(f"x is not a finite number for {', '.join(wrong)}")
        return [tuple(point) for point in numbers.reshape(wanted, -1).T.tolist()]

    def _written(self, point: Point) -> list[str | float]:
        return [variable.written(number) for variable, number in zip(self._variables, point, strict=True)]

    def _outcomes(self, points: list[Point]) -> list[Outcome]:
        kept = self._known
        known = {point: kept[point] for point in points if point in kept}
        new = [point for point in dict.fromkeys(points) if point not in known]
        for first in range(0, len(new), _AT_ONCE):
            known |= self._marched(new[first : first + _AT_ONCE])
        if len(self._known) + len(new) > _KEPT_POINTS:
            self._known = {}
        self._known |= {point: known[point] for point in new[-_KEPT_POINTS:]}
        return [known[point] for point in points]

    def _marched(self, points: list[Point]) -> dict[Point, Outcome]:
        specs: dict[Point, ScenarioSpec] = {}
        outcomes: dict[Point, Outcome] = {}
        for point in points:
            try:
                specs[point] = self._variants.spec(self._written(point))
            except ScenarioError as error:
                outcomes[point] = Outcome(self._refused, error.sentence)
        if specs:
            outcomes |= zip(specs, self._raced(specs.values()), strict=True)
        return outcomes

    def _raced(self, specs: Iterable[ScenarioSpec]) -> list[Outcome]:
        tables = self._tables.copy()
        batch = batch_of(compile_problems(specs, self._tolerance_factor, tables))
        self._tables = tables if len(tables) <= _KEPT_TABLES else {}
        return self._told(march_batch(batch, workers=self._workers, slice_size=1))

    def _told(self, marched: Marched) -> list[Outcome]:
        found = state_figures(marched.states)
        figures = np.array([_figure(found, name) for name in self.outputs], dtype=float).T
        return [
            Outcome(row, "")
            if status == STATUS_DONE
            else Outcome(self._refused, str(SimulationError(int(status), float(time))))
            for row, status, time in zip(figures, marched.statuses, marched.states.time, strict=True)
        ]


def _figure(found: dict[str, NDArray[Any]], name: str) -> NDArray[Any]:
    if name == PEAK:
        return cast("NDArray[Any]", found[PEAK].max(axis=-1))
    figure, _, node = name.partition(".")
    return found[figure][..., NODES.index(node)] if node else found[figure]


def objective(
    scenario: Scenario,
    *,
    vary: Sequence[Vary],
    outputs: Sequence[str],
    refused: float = math.nan,
    tolerance_factor: float = 1.0,
    workers: int | None = None,
) -> Objective:
    """Make a function of a vector, for optimisers.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario.
    vary : sequence
        What each number of the vector sets: a dotted key, for all that the key accepts; or (key, low, high), ends as
        SI numbers or text with a unit. A pressure level counts over ambient or from zero as the scenario has it; an end
        that is a number is absolute.
    outputs : sequence of str
        Summary figures that need no rows: `peak_oil_temperature` is that of the hottest node,
        `peak_oil_temperature.pump` that of one; the others by their names.
    refused : float
        What a point gets that the checks refuse or whose race cannot be finished.
    tolerance_factor : float
        Factor on the tolerances, 1e-4 to 10; that of `simulate`.
    workers : int or None
        Threads; None is one for each core.

    Returns
    -------
    Objective
        The function.

    Raises
    ------
    ScenarioError
        With everything that is wrong with keys, ends and outputs.
    ValueError
        If the tolerance factor is out of range, or there is no thread.

    Notes
    -----
    An optimum is that of the model, no permission: makers' ratings go first.
    """
    if workers is not None and workers < 1:
        raise ValueError(f"workers is {workers}; take a whole number from 1 on")
    variables, faults = read_variables(a_scenario(scenario), vary)
    faults += output_faults(outputs)
    if faults:
        raise ScenarioError(faults)
    return Objective(scenario, variables, outputs, float(refused), allowed_tolerance(tolerance_factor), workers)
