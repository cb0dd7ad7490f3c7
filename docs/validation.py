"""Write docs/validation.md and its picture: every check against the outside, from the data of the tests themselves."""

from __future__ import annotations

import functools
import math
import sys
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

HERE = Path(__file__).parent
TESTS = HERE.parent / "tests"
sys.path[:0] = [str(TESTS), str(TESTS / "verification")]

import ullage as ul  # noqa: E402
from not_checked import NOT_USED, OWN_JUDGEMENT  # noqa: E402
from outside import WHOLE_JOB, Check, Comparison, last_line  # noqa: E402
from rows import CHECKS, KINDS  # noqa: E402
from second_solution.comparison import second_solution, table_of_differences  # noqa: E402
from test_second_solution import OPENED  # noqa: E402

PICTURE = HERE / "pictures" / "validation.png"
LEAST_SHOWN = 1e-8  # share of what is allowed
EDGE = 1e-5  # of the picture, likewise
LIMIT = "#c1272d"
CORNER: dict[str, Any] = {"ha": "right", "va": "top", "fontsize": 8}

HEAD = """# How far the numbers can be trusted

Written by `python docs/validation.py` from the data of the tests; do not edit. To run every check:

    pytest tests/verification

"""

READING = """
In the picture: above, the race solved twice; below, a dot for each value, sorted within its kind, at the share of
its allowance that it uses; those of next to no deviation are stacked at the left edge.

Each row names its law (`module.law` of `ullage.physics`) or is of the whole job, a race through the march; the
inputs; our value and the outside value (of several, the one that comes nearest to its limit; for a band, the range
of ours); by how much they differ; what is allowed, and why; and the source. How the outside value is known:

- **published**: constants or answer seen in a public text, and recomputed
- **library**: a public library carries the correlation and gave the value; the source behind it was not seen
- **derived**: exact mathematics, or a solution of its own by another route; where a claim speaks of the race's own
  temperatures, flow or heat, these are taken from the run and the balance is what is checked
- **from memory**: a formula or printed answer remembered; its source was not seen
- **common practice**: custom of the trade, not physics

Sources are counted as works: all examples of a book are one, all that was derived here is one, all custom is one.

An agreement with a source says that the law is the one that it gives, computed right; with a derivation, that the
march solves its equations. Neither says that your truck follows them. The pump stand is invented and set up so that
it reads what the trade reports: its rows show that the model can, not that it must.

"A truck" without more words is that of the tests (`tests/support.py`, invented): tank of 7.6 L, 80 % full at 20
degC, of aluminium (7.1e-5 per kelvin by volume) that gives way by 2e-10 m3/Pa, 210 cm2 of oil surface, 0.25 m above
the pump; oil of 870 kg/m3 at 15 degC, 34 and 7.3 mm2/s at 40 and 100 degC; 0.3, 1.6 and 1.6 L in pump, gear and
cooler, whose passages widen by 4e-5 per kelvin; a 16 psi cap; a pump of 28 cm3 at 0.7 times engine speed, 38 L/min
to the steering, bypass to the inlet; a feed line of 22.2 mm and 1.2 m; all else as the defaults of
[scenario.md](scenario.md). Ironwood Flats is `scenarios/ironwood.toml`, the pump stand stands in
`tests/verification/test_common_practice.py`.
"""

SECOND = """
## A whole race, solved a second time

The model was written again, in plain SciPy, from [physics.md](physics.md), by somebody who had not seen the code of
the laws and of the march (`tests/second_solution`). It covers a truck with a sealed cap on dry oil, air frozen or
kinetic, the relief valve in the pump; leaks and blockages of the faults. It refuses the rest: vented caps, air at
once, wet oil, oil through the cap, an uncovered outlet, a return that plunges, trapped air, top-ups, recharges, a fan
forced on, unequal rams, the relief elsewhere, data-sheet points of the pump; and it has no inertia of the feed line.
It takes from the library the checked scenario, the oil presets and the table of the duty cycle (laps, weather, engine
bay and block); the state at the start and the arguments of the compliance had been seen in the source. Where the page
was silent at the time it took its reading from results, and the page says it now: on such choices agreement is no
second opinion.

Both solve Ironwood Flats with the cap taken off in the first pit stop and put on again a minute later; the largest
differences over all rows of the five hours:

"""

NOT_ESTABLISHED = """
## What is not established

No measurement of ours stands behind these, and no published value beyond a typical range.
[sensitivity.md](sensitivity.md) shows what each does to the answers: read it before you trust a number.

What decides about gas, so that answers about gas compare one truck with itself and no more:

- **How fast air goes in and out of the oil**: the times of release in line and tank, the threshold below which
  bubbles form, the uptake through a calm or a shaken surface. Known to a factor of three to ten. The air bracket
  (`frozen`, `kinetic`, `equilibrium`) shows the spread; it is three assumptions, not two limits and a middle.
- **How much air the return drags in**, the size of the bubbles, and an outlet that is nearly uncovered. No measured
  value for a truck's reservoir was found.
- **How much air an oil holds**: the Bunsen coefficient to some 20 %; whether it rises or falls with temperature is
  unsettled. How much air and water yours holds at the start is yours to say; by default it is dry and saturated.
- **The pump's own port**: what it loses between gauge and chambers, two coefficients without a maker's data behind
  them, and its need at the inlet, which is a default until you give the maker's.

What decides about temperature and pressure:

- **The pump's losses**: slip, friction, drag and idle torque. The form is from memory, the coefficients are
  plausible. Of all that is weak they move the oil most: tens of kelvin, the slip at ten times its value nearly a
  hundred. Two points of the pump's data sheet settle them. How fast it may turn, and how much work leaves the
  circuit at the ram, are yours.
- **Heat**: conductances of tank, pump, gear and cooler and the heat of the bay are plausible values of an invented
  truck, and move the oil by up to some twenty kelvin each. Without a measured warm-up of your truck no temperature
  is better than a few tens of kelvin.
- **Drops** of strainer, filter and return line: one rating point each, half viscous and half inertial by
  assumption.
- **The lift, seat and hysteresis of a pressure cap**: discharge coefficient, reseat, vacuum valve. Measure your
  cap.
- **How the tank's wall gives way**: it decides how hard a nearly full tank gets.
- **Cold oil**: viscosity extrapolated below the lowest measured point is 40 % off at 0 degC for one tabulated
  engine oil. Give a cold point.
- **Oil in service**: polymer shear loss and wear. An ageing factor is all there is. Water stays in the oil for
  ever.

No row from outside holds a tank filled hot to its mark, air trapped in the hoses, or an uncovered outlet: they are
held by tests against their own text.

What is not modelled: foam on top of the oil, slosh and swirl, pulses of the pump, noise, cavitation damage.

**A whole race against a logged race**: not done; no such log is public. Everything on this page holds parts of the
job, or the job against another solution of the same equations. When you have a log of gauge and thermometer, it is
worth more than this page. The equations themselves (lumped nodes, oil mixed at once, air in one well-stirred space)
are a choice. No check here can confirm a choice; the second solution shares it.

An estimate is never a permission to open a hot reservoir, to run a part beyond its maker's rating, or to skip what
a licensed practice asks for.
"""


def shown(value: float) -> str:
    """Write a value with five digits."""
    return f"{value:.5g}"


def with_unit(text: str, check: Check) -> str:
    """Write a value with the unit of its check, if it has one."""
    return text if check.unit == "1" else f"{text} {check.unit}"


def ours(check: Check, worst: Comparison) -> str:
    """Write our value; of a band the range of all."""
    values = sorted({shown(c.ours) for c in check.comparisons}, key=float)
    if worst.expected is not None or len(values) == 1:
        return with_unit(shown(worst.ours), check)
    return with_unit(f"{values[0]} to {values[-1]}", check)


def apart(comparison: Comparison) -> str:
    """Write how far a value is from the outside one."""
    if not comparison.holds():
        return "OUTSIDE"
    if comparison.expected is None:
        return "within"
    difference = comparison.ours - comparison.expected
    if abs(difference) <= LEAST_SHOWN * (comparison.high - comparison.expected):
        return "0"
    relative = abs(difference / comparison.expected) if comparison.expected else math.inf
    two_digits = float(f"{difference:.2g}")
    return f"{two_digits:+.6g}" + (f" ({100.0 * relative:.1g} %)" if relative < 1.0 else "")


def allowed(check: Check, comparison: Comparison) -> str:
    """Write what a check allows, and why."""
    if comparison.expected is None:
        return check.why
    parts = [f"{100.0 * check.rel:.3g} %"] if check.rel else []
    parts += [with_unit(f"{check.abs:.3g}", check)] if check.abs else []
    return f"{' or '.join(parts)}: {check.why}" if parts else check.why


def outside(comparison: Comparison) -> str:
    """Write the outside value, or the band."""
    if comparison.expected is not None:
        return shown(comparison.expected)
    if comparison.high == math.inf:
        return f"at least {shown(comparison.low)}"
    if comparison.low == -math.inf:
        return f"at most {shown(comparison.high)}"
    return f"{shown(comparison.low)} to {shown(comparison.high)}"


def row(check: Check) -> str:
    """Write a check as a row of a table."""
    worst = max(check.comparisons, key=Comparison.deviation)
    count = len(check.comparisons)
    law = "" if check.law == WHOLE_JOB else ", ".join(f"`{law}`" for law in check.law.split(", ")) + ": "
    cells = [
        f"{law}{check.claim}" + (f" ({count} values)" if count > 1 else ""),
        ours(check, worst),
        outside(worst),
        apart(worst),
        allowed(check, worst),
        f"{check.source} ({check.evidence})",
    ]
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def table(checks: list[Check]) -> str:
    """Write checks as a table."""
    head = "| what, with inputs | ours | outside | apart | allowed, and why | source |\n|---|--:|--:|--:|---|---|"
    return "\n".join([head, *map(row, checks)])


@functools.cache
def solved_twice() -> tuple[Any, Any]:
    """Solve the race with the opened cap by the march, and again."""
    run = ul.simulate(OPENED)
    return run, second_solution(OPENED, run.time.values)


def differences() -> str:
    """Write the differences of the two solutions as a table."""
    lines = ["| variable | largest difference | at | allowed |", "|---|--:|--:|--:|"]
    for item in table_of_differences(*solved_twice()):
        unit = "" if item.unit == "1" else f" {item.unit}"
        largest, limit = f"{item.largest:.2g}{unit}", f"{item.tolerance:g}{unit}"
        lines.append(f"| `{item.variable}` | {largest} | {item.time:.0f} s | {limit} |")
    return "\n".join(lines)


def page() -> str:
    """Run every check and return the page."""
    laws = sum(check.law != WHOLE_JOB for check in CHECKS)
    counted = (
        f"**{last_line(CHECKS)}**, {laws} of them of a law, {len(CHECKS) - laws} of the whole job and of the trade.\n"
    )
    tables = "\n\n".join(f"## {kind}\n\n{table(checks)}" for kind, checks in KINDS.items())
    unused = "\n".join(f"- {line}" for line in NOT_USED)
    judged = "\n".join(f"- `{law}`: {reason}" for law, reason in OWN_JUDGEMENT.items())
    return "\n".join(
        [
            HEAD + counted,
            "![The race solved twice, and how much of its allowance each value uses](pictures/validation.png)",
            READING,
            tables,
            SECOND + differences(),
            f"\n## Laws with no outside value\n\nHeld by tests against what their own text says.\n\n{judged}",
            f"\n## Looked at and not used\n\nNo law of the race needs them.\n\n{unused}",
            NOT_ESTABLISHED,
        ]
    )


def draw(path: Path) -> None:
    """Draw the race of both solutions, their difference, and how much of its allowance each value of the rows uses."""
    figure = Figure(figsize=(7.0, 7.2), dpi=160, layout="constrained")
    race, apart, dots = figure.subplots(3, height_ratios=[2.0, 1.1, 2.6])
    plot_both(race, apart)
    plot_dots(dots)
    for axes in (race, apart, dots):
        axes.spines[["top", "right"]].set_visible(False)
    FigureCanvasAgg(figure).print_png(path, metadata={"Software": None})


def plot_both(race: Axes, apart: Axes) -> None:
    """Plot the pressure in the air space of both solutions, and how far they are apart."""
    run, again = solved_twice()
    hours, gauge = run.time.values / 3600.0, run.headspace_gauge_pressure.values
    difference = run.headspace_pressure.values - again["headspace_pressure"]
    race.plot(hours, (gauge - difference) / 1000.0, color="0.7", linewidth=4.5)
    race.plot(hours, gauge / 1000.0, color="black", linewidth=0.9)
    race.set_ylabel("air space, kPa gauge")
    race.text(
        0.985, 0.95, "second solution (grey, thick)\nand the march (black, thin)", **CORNER, transform=race.transAxes
    )
    race.text(hours[gauge.argmin()] - 0.15, 0.0, "cap off, on again after a minute", ha="right", fontsize=8)
    apart.plot(hours, difference, color="black", linewidth=0.6)
    apart.set_ylabel("apart, Pa")
    apart.set_xlabel("race time, h")
    for limit in (-100.0, 100.0):
        apart.axhline(limit, color=LIMIT, linewidth=1.4)
    apart.text(0.985, 0.88, "limit", **CORNER, color=LIMIT, transform=apart.transAxes)


def plot_dots(axes: Axes) -> None:
    """Plot each value of the rows as a dot, by kind of source."""
    for place, checks in enumerate(KINDS.values()):
        used = sorted(max(c.deviation(), EDGE) for check in checks for c in check.comparisons)
        height = [place + 0.6 * (i / max(1, len(used) - 1) - 0.5) for i in range(len(used))]
        axes.plot(used, height, "o", color="black", markersize=2.4, markeredgewidth=0.0)
    axes.axvline(1.0, color=LIMIT, linewidth=1.4)
    axes.set_yticks(range(len(KINDS)), [f"{kind}\n({len(checks)} rows)" for kind, checks in KINDS.items()], fontsize=8)
    axes.invert_yaxis()
    axes.set_xscale("log")
    axes.set_xlim(0.7 * EDGE, 1.3)
    axes.set_xlabel(f"deviation of a value over what is allowed ({EDGE:g} or less: at the edge)")


if __name__ == "__main__":
    if missed := [f"{check}: {miss}" for check in CHECKS for miss in check.misses()]:
        sys.exit("no page while a check fails:\n" + "\n".join(missed))
    (HERE / "validation.md").write_text(page(), encoding="utf-8")
    draw(PICTURE)
