"""Write docs/sensitivity.md: what each weak coefficient does to the answers, at a tenth and ten times its default."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import BaseModel

from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import Level, nested_spec, quantity_of
from ullage.scenario.load import Scenario, load_scenario

HERE = Path(__file__).parent
SCENARIO = HERE.parent / "scenarios" / "ironwood.toml"
STOP, OPEN_FOR, LATER = "first pit", 60.0, 1800.0
OPENING = [
    {"action": "cap off", "stop": STOP, "after": "60 s"},
    {"action": "cap on", "stop": STOP, "after": f"{60.0 + OPEN_FOR} s"},
]
PSI = 6894.757

HEAD = """# What the weak coefficients do

Written by `python docs/sensitivity.py`; do not edit. The race is `scenarios/ironwood.toml` with the cap taken off for a
minute in the first pit, and put on again. Each coefficient that the tables of [scenario.md](scenario.md) call weak is
set to a tenth and to ten times its value, or to the end of its accepted range where that is nearer (`*-` below, `-*`
above, `**` both; a value of zero goes to both ends). One at a time, so nothing is said of two that are wrong together.

- **oil**: change of the hottest oil anywhere, in kelvin
- **tank**: change of the highest pressure in the air space, in psi
- **need**: change of what was left, at the worst, of the pressure at the pump's inlet over what the pump needs, in psi
- **after**: change of the pressure in the air space half an hour after the cap went on again, in psi
- **gas**: exposure of the pump to gas over that of the race as it is

"""

IDLE = """These change nothing here that would show (0.25 K, 0.05 psi, one per cent of the gas). This race may not ask
for them: its cap never lifts, its oil is dry, its return stays under the oil, nothing is spilt or
bled. Elsewhere they may weigh:"""
NO_EFFECT = 0.05  # of what a crew would notice


class Answers(NamedTuple):
    """What is asked of a race: hottest oil [K], highest tank, least left at the pump, later tank [psi], gas [s]."""

    oil: float
    tank: float
    need: float
    after: float
    gas: float


def weak_keys(model: type[BaseModel] = ScenarioSpec, path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield dotted key and quantity of every weak coefficient."""
    for name in model.model_fields:
        accepted = quantity_of(model, name)
        nested = nested_spec(model, name)
        if accepted is not None and accepted.weak:
            yield path + name, accepted
        elif nested is not None:
            yield from weak_keys(nested, f"{path}{name}.")


def answers(scenario: Scenario) -> Answers:
    """Run a race and read its answers."""
    problem = compile_problem(scenario.spec)
    trace = trace_race(problem)
    begin = next(stop.start for stop in problem.stops if stop.name == STOP)
    later = trace.rows[int(trace.rows.time.searchsorted(begin + 60.0 + OPEN_FOR + LATER))]
    return Answers(
        float(max(trace.state.peak_oil_temperature)),
        float(trace.state.highest_headspace_gauge_pressure) / PSI,
        float(trace.state.lowest_rating_margin) / PSI,
        float(later.headspace_gauge_pressure) / PSI,
        float(trace.state.cavitation_exposure),
    )


def value_of(spec: BaseModel, key: str) -> float:
    """Return the SI value of a dotted key."""
    value: Any = spec
    for part in key.split("."):
        value = getattr(value, part)
    return value.absolute(101325.0) if isinstance(value, Level) else float(value)


def varied(value: float, accepted: Any, factor: float) -> tuple[float, str]:
    """Return a value times a factor within the accepted range, and a star where the range has cut it."""
    low, high = accepted.limits()
    if accepted.kind == "pressure level":
        low, high = low + 101325.0, high + 101325.0
    wanted = value * factor if value else (low if factor < 1.0 else high)
    kept = min(max(wanted, low), high)
    return kept, "" if kept == wanted and value else "*"


def line(base: Answers, found: Answers) -> str:
    """Write the changes of a race as cells."""
    changes = [f"{now - before:+.1f}" for now, before in zip(found[:-1], base[:-1], strict=True)]
    return " | ".join([*changes, f"{found.gas / base.gas:.2g}"])


def weight(base: Answers, found: Answers) -> float:
    """Return how much a change matters, in units that a crew would notice: 5 K, 1 psi, a quarter of the gas."""
    gas = abs(found.gas / base.gas - 1.0) / 0.25
    pressures = [abs(now - before) for now, before in zip(found[1:-1], base[1:-1], strict=True)]
    return max(abs(found.oil - base.oil) / 5.0, *pressures, gas)


def page() -> str:
    """Run all races and return the page."""
    plain = load_scenario(SCENARIO).replace({"event": OPENING})
    base = answers(plain)
    rows, idle = [], []
    for key, accepted in weak_keys():
        value = value_of(plain.spec, key)
        low, low_cut = varied(value, accepted, 0.1)
        high, high_cut = varied(value, accepted, 10.0)
        races = [answers(plain.replace({key: changed})) for changed in (low, high)]
        cut = f" {low_cut or '-'}{high_cut or '-'}" if low_cut or high_cut else ""
        if max(weight(base, found) for found in races) < NO_EFFECT:
            idle.append(f"`{key}`")
            continue
        text = f"| `{key}`{cut} | {line(base, races[0])} | {line(base, races[1])} |"
        rows.append((max(weight(base, found) for found in races), text))
    rows.sort(key=lambda row: -row[0])
    names = " | ".join(Answers._fields)
    head = f"| key: a tenth, then ten times | {names} | {names} |\n|---|" + "--:|" * (2 * len(base))
    return f"{HEAD}{head}\n" + "\n".join(text for _, text in rows) + f"\n\n{IDLE}\n\n{', '.join(idle)}.\n"


if __name__ == "__main__":
    (HERE / "sensitivity.md").write_text(page(), encoding="utf-8")
