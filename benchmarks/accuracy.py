"""What accuracy costs: errors of the march and of general solvers over the time they take, at many tolerances.

    python benchmarks/accuracy.py [--quick]

Checks against LSODA at tight tolerances that the march keeps its promise and that its errors fall with its tolerances.
Times are in evaluations of all balances a sample, timed in turns. Prints JSON lines with name, value and unit, and
draws them into `docs/pictures/work_precision.png`. The quick version takes a race of 26 minutes and fewer tolerances,
and draws nothing.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import matplotlib.pyplot as plt
from matplotlib.axes import Axes

from figures import (
    MOST_KELVIN,
    MOST_PASCAL,
    ROOT,
    SHORT,
    TIGHT,
    Errors,
    Solution,
    accurate,
    demo_race,
    errors,
    in_turns,
    march_seconds,
    median,
    quick_asked,
    show,
    solution_of,
)
from floor import floor_seconds
from general_solvers import HAS_COMPILED, INSTALL, Race, race_of, reference_of, solve
from peers import COMPILED, SCIPY, Peer, tolerance_of
from ullage.results.trace import trace_race

PICTURE = ROOT / "docs" / "pictures" / "work_precision.png"
FACTORS, FEWER_FACTORS = (10.0, 1.0, 0.3, 0.1, 0.03, 0.01, 0.003, 0.001), (10.0, 1.0, 0.1, 0.01, 0.001)
SHARES, FEWER_SHARES = (4.0, 2.0, 1.0, 0.5, 0.25, 0.125), (2.0, 0.5)  # of a peer's loosest tolerance
MOST_FLOORS = 1_000.0  # no tighter tolerance after one that took longer
STEP_BACK = 1.5  # errors may rise by this from one tolerance to the next; over the whole row they have to halve
STYLES: dict[str, tuple[str, Any, str, str]] = {
    "march": ("march", "-", "o", "black"),
    "compiled_lsoda": ("LSODA, compiled", (0, (6, 2)), "s", "black"),
    "lsoda": ("LSODA", (0, (6, 2)), "^", "0.45"),
    "odeint": ("odeint", "-.", "P", "0.45"),
    "bdf": ("BDF", (0, (1, 1.5)), "D", "0.45"),
    "radau": ("Radau", "-", "v", "0.45"),
}
NAMED_ABOVE = "radau"  # its curve ends where another's does


class Point(NamedTuple):
    """A tolerance tried: the time that it took, in floors, and its errors."""

    floors: float
    errors: Errors


Clocked = Callable[[], float]


def shown(name: str, floors: float, found: Errors) -> Point:
    """Print and return a point."""
    show(f"{name}_over_floor", floors, "1")
    show(f"{name}_temperature_error_k", found.kelvin, "K")
    show(f"{name}_pressure_error_pa", found.pascal, "Pa")
    return Point(floors, found)


def march_points(
    changes: Mapping[str, Any], factors: Sequence[float], reference: Solution, floor: Clocked
) -> Iterator[Point]:
    """Yield a point for each factor on the tolerances of the march."""
    for factor in factors:
        problem = demo_race(changes, factor)
        found = errors(solution_of(trace_race(problem).rows), reference)
        march, one = in_turns([march_seconds(problem), floor], True).T
        yield shown(f"march_{factor:g}", median(march / one), found)


def peer_points(
    race: Race, peer: Peer, shares: Sequence[float], reference: Solution, floor: Clocked
) -> Iterator[Point]:
    """Yield a point for each tolerance of a peer, until it takes too long."""
    for share in shares:
        before = floor()
        solved = solve(race, peer.method, tolerance_of(peer, share * peer.kelvin))
        floors = 2.0 * solved.seconds / (before + floor())
        yield shown(f"{peer.name}_{share:g}", floors, errors(solved.solution, reference))
        if floors > MOST_FLOORS:
            return


def falls(found: Sequence[Errors]) -> bool:
    """Return whether errors fall along a row of ever tighter tolerances."""
    pairs = itertools.pairwise(found)
    steadily = all(b.within(STEP_BACK * a.kelvin, STEP_BACK * a.pascal) for a, b in pairs)
    return steadily and found[-1].within(0.5 * found[0].kelvin, 0.5 * found[0].pascal)


def draw(points: Mapping[str, Sequence[Point]]) -> None:
    """Draw errors over time: a line, a mark and a name for each solver, and what the march promises."""
    figure, (left, right) = plt.subplots(1, 2, figsize=(9.0, 4.2), sharex=True, layout="constrained")
    _panel(left, {name: [point.errors.kelvin for point in row] for name, row in points.items()}, points)
    _panel(right, {name: [point.errors.pascal for point in row] for name, row in points.items()}, points)
    left.set_title("largest error of oil temperature, K", loc="left", fontsize=10)
    right.set_title("largest error of headspace pressure, Pa", loc="left", fontsize=10)
    for axes, promised in ((left, MOST_KELVIN), (right, MOST_PASCAL)):
        axes.axhline(promised, color="black", linewidth=0.6)
        axes.text(0.99, promised, "promised", transform=axes.get_yaxis_transform(), ha="right", va="bottom", fontsize=8)
    figure.supxlabel("time, in evaluations of all balances a sample", fontsize=10)
    figure.savefig(PICTURE, dpi=150)


def _panel(axes: Axes, heights: Mapping[str, Sequence[float]], points: Mapping[str, Sequence[Point]]) -> None:
    axes.set(xscale="log", yscale="log")
    for name, row in points.items():
        label, line, mark, shade = STYLES[name]
        floors = [point.floors for point in row]
        axes.plot(floors, heights[name], linestyle=line, marker=mark, color=shade, markersize=4, linewidth=1.1)
        end, away, side = (0, 8, "bottom") if name == NAMED_ABOVE else (-1, -8, "top")
        axes.annotate(
            label,
            (floors[end], heights[name][end]),
            (0, away),
            textcoords="offset points",
            rotation=90,
            ha="center",
            va=side,
            fontsize=9,
        )
    axes.margins(0.06)
    low, high = axes.get_ylim()
    axes.set_ylim(0.06 * low, 4.0 * high)
    axes.set_xticks([3, 10, 30, 100, 300, 1000])
    axes.xaxis.set_major_formatter("{x:g}")
    axes.yaxis.set_major_formatter("{x:g}")
    axes.tick_params(axis="x", which="minor", labelbottom=False)


def main() -> int:
    """Check, then time."""
    quick = quick_asked(__doc__)
    changes, factors, shares = (SHORT, FEWER_FACTORS, FEWER_SHARES) if quick else ({}, FACTORS, SHARES)
    problem = demo_race(changes)
    race = race_of(problem, trace_race(demo_race(changes, TIGHT)))
    reference = reference_of(race)
    if not accurate(errors(solution_of(trace_race(problem).rows), reference)):
        return 1
    floor = floor_seconds(problem)
    points = {"march": list(march_points(changes, factors, reference, floor))}
    if not falls([point.errors for point in points["march"]]):
        print("the errors of the march do not fall with its tolerances", file=sys.stderr)
        return 1
    if not HAS_COMPILED:
        print(INSTALL, file=sys.stderr)
    for peer in (COMPILED, *SCIPY) if HAS_COMPILED else SCIPY:
        points[peer.name] = list(peer_points(race, peer, shares, reference, floor))
    if not quick:
        draw(points)
    return 0


if __name__ == "__main__":
    sys.exit(main())
