"""Write docs/weakest_inputs.md: what uptake time, entrainment and wall compliance do to a builder's figures."""

from __future__ import annotations

import itertools
import textwrap
from pathlib import Path
from typing import NamedTuple

from sensitivity import PSI, SCENARIO

from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario, load_scenario

HERE = Path(__file__).parent
ROUGH_GROUND = 10.0  # how many times faster air goes through a surface that is shaken, the default of the scenario
INPUTS = ("uptake time", "entrainment", "wall compliance")
RANGES = {"uptake time": ("2 h", "10 min"), "entrainment": (3e-5, 1e-3), "wall compliance": (4e-11, 4e-9)}
TIMES = {"2 h": 7200.0, "10 min": 600.0}
KEYS = {
    "uptake time": "air.transfer_velocity",
    "entrainment": "return_line.entrainment",
    "wall compliance": "reservoir.compliance",
}
LISTED = textwrap.TextWrapper(width=120, subsequent_indent="  ")

HEAD = """# The three weakest inputs

Written by `python docs/weakest_inputs.py`; do not edit. The race is `scenarios/ironwood.toml`, invented like its
numbers. Nobody knows well how fast the oil takes up air, how much the return draws in, and how far the tank's wall
gives. Each is taken alone to the low and the high end of what is plausible (engineering judgement), then all three
together to all eight corners.

- **uptake time** 2 h to 10 min on rough ground, by `air.transfer_velocity`: {slow:.2g} to {fast:.2g} m/s. What the
  return draws in goes into solution too and is not in that time.
- **entrainment**, `return_line.entrainment`: 0.00003 to 0.001 of what comes back.
- **wall compliance**, `reservoir.compliance`: 4e-11 to 4e-9 m3/Pa, a stiff welded tank to a soft one.

| race | lowest feed, psi | tank hot (highest), psi | tank at the finish, psi | gas at the pump, s |
|---|--:|--:|--:|--:|
"""


class Answers(NamedTuple):
    """Gauge pressures [psi]: lowest feed, highest in the air space, that at the finish; and gas at the pump [s]."""

    feed: float
    hot: float
    finish: float
    gas: float


Corners = dict[tuple[int, ...], Answers]
WORDS = Answers("the lowest feed", "the tank hot", "the tank at the finish", "the gas at the pump")
UNITS = Answers("psi", "psi", "psi", "s")
FORMS = Answers(".2f", ".1f", ".1f", ".0f")
NOTICED = Answers(0.25, 0.5, 0.5, 250.0)  # what a builder would notice, own choice: psi, and a tenth of the gas here


def answers(scenario: Scenario) -> Answers:
    """Run a race and read its answers."""
    trace = trace_race(compile_problem(scenario.spec))
    return Answers(
        float(trace.state.lowest_feed_gauge_pressure) / PSI,
        float(trace.state.highest_headspace_gauge_pressure) / PSI,
        float(trace.rows[-1].headspace_gauge_pressure) / PSI,
        float(trace.state.cavitation_exposure),
    )


def value_of(scenario: Scenario, name: str, end: int) -> float:
    """Return the SI value of an input at its low (0) or high (1) end; of uptake the slow and the fast one."""
    plausible = RANGES[name][end]
    if name != "uptake time":
        return float(plausible)
    spec = scenario.spec
    parts = (spec.pump.oil_volume, spec.steering_gear.oil_volume, spec.cooler.oil_volume)
    oil = spec.reservoir.fill * spec.reservoir.volume + sum(parts)
    return oil / (spec.reservoir.surface_area * TIMES[str(plausible)] * ROUGH_GROUND)


def changed(scenario: Scenario, ends: dict[str, int]) -> Answers:
    """Run a race with some of the three at an end of their range."""
    return answers(scenario.replace({KEYS[name]: value_of(scenario, name, end) for name, end in ends.items()}))


def row(name: str, found: Answers) -> str:
    """Write a race as a row."""
    return f"| {name} | {found.feed:.2f} | {found.hot:.1f} | {found.finish:.1f} | {found.gas:.0f} |"


def sentence(name: str, base: Answers, alone: tuple[Answers, Answers], corners: Corners) -> str:
    """Say what one input does alone, and the most that it does with the others at their ends."""
    moved, still, joined = [], [], []
    for place, words in enumerate(WORDS):
        unit, form = UNITS[place], FORMS[place]
        low, high = alone[0][place], alone[1][place]
        if max(abs(end - base[place]) for end in (low, high)) < NOTICED[place]:
            still.append(words)
        else:
            moved.append(f"{words} from {low:{form}} to {high:{form}} {unit}")
        most = max(abs(pair[0][place] - pair[1][place]) for pair in pairs(name, corners))
        if most >= NOTICED[place]:
            joined.append(f"{words} by up to {most:{form}} {unit}")
    texts = [f"moves {', '.join(moved)}"] if moved else []
    texts += [f"leaves {', '.join(still)} about where it is"] if still else []
    also = f" With the other two at their ends it moves {', '.join(joined)}." if joined else ""
    return f"- **{name}**, {RANGES[name][0]} to {RANGES[name][1]}, alone {'; '.join(texts)}.{also}"


def pairs(name: str, corners: Corners) -> list[tuple[Answers, Answers]]:
    """Return the corners that differ in one input only."""
    place = INPUTS.index(name)
    return [
        (found, corners[(*ends[:place], 1, *ends[place + 1 :])]) for ends, found in corners.items() if ends[place] == 0
    ]


def together(base: Answers, alone: dict[str, tuple[Answers, Answers]], corners: Corners) -> list[str]:
    """Say how far the corners go beyond what the single changes would add up to."""
    lines = []
    for place, words in enumerate(WORDS):
        form, unit = FORMS[place], UNITS[place]
        low, high = (pick(found[place] for found in corners.values()) for pick in (min, max))
        least, most = (
            base[place] + sum(pick(0.0, *(end[place] - base[place] for end in alone[name])) for name in INPUTS)
            for pick in (min, max)
        )
        beyond = max(abs(low - least), abs(high - most)) >= NOTICED[place]
        verdict = (
            "they work on each other: alone they would add up to" if beyond else "alone they add up to about that,"
        )
        text = (
            f"{low:{form}} to {high:{form}} {unit} over the corners; {verdict} {least:{form}} to {most:{form}} {unit}"
        )
        lines.append(f"- {words}: {text}.")
    return lines


def page() -> str:
    """Run all races and return the page."""
    scenario = load_scenario(SCENARIO)
    base = answers(scenario)
    alone = {name: (changed(scenario, {name: 0}), changed(scenario, {name: 1})) for name in INPUTS}
    corners = {
        ends: changed(scenario, dict(zip(INPUTS, ends, strict=True))) for ends in itertools.product((0, 1), repeat=3)
    }
    rows = [row("as it is", base)]
    rows += [row(f"{name} {RANGES[name][end]}", alone[name][end]) for name in INPUTS for end in (0, 1)]
    for ends, found in corners.items():
        rows.append(row(", ".join(str(RANGES[name][end]) for name, end in zip(INPUTS, ends, strict=True)), found))
    head = HEAD.format(slow=value_of(scenario, "uptake time", 0), fast=value_of(scenario, "uptake time", 1))
    single = [sentence(name, base, alone[name], corners) for name in INPUTS]
    rest = together(base, alone, corners)
    lines = [LISTED.fill(line) for line in (*single, "", *rest)]
    return "\n".join([head + "\n".join(rows), "", *lines, ""])


if __name__ == "__main__":
    (HERE / "weakest_inputs.md").write_text(page(), encoding="utf-8")
