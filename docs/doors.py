"""Write the table of one race through all doors, with the differences: `python docs/doors.py`.

It needs a C compiler and FMPy.
"""

from __future__ import annotations

import itertools
import json
import math
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import fmpy
import numpy as np
import xarray as xr
from fmpy.fmi2 import FMU2Slave

import ullage as ul
from ullage.embed.fmi import export_unit
from ullage.kernel.inputs import FIRST_HELD, INPUTS
from ullage.results.summary import summarise

PAGE = Path(__file__).parent / "embedding.md"
RACE = Path(__file__).parents[1] / "scenarios" / "short_loop.toml"
FIGURES = ("peak_oil_temperature", "lowest_feed_gauge_pressure", "highest_headspace_gauge_pressure", "relief_openings")
HEADER = ["door", "steps", "oil temperature, K", "air space, Pa", "summary figures"]
LINEAR, HELD = INPUTS[:FIRST_HELD], INPUTS[FIRST_HELD:]


class Traces(NamedTuple):
    """Oil temperatures [K] and pressure of the air space [Pa] at the times of a run, or the figures of a summary."""

    temperature: np.ndarray | None = None
    pressure: np.ndarray | None = None
    figures: dict[str, Any] | None = None


def stepped(scenario: ul.Scenario, run: xr.Dataset, pieces: int, tolerance_factor: float = 1.0) -> Traces:
    """Drive a stepper with the inputs of a race, each of its steps in equal pieces."""
    stepper = ul.Stepper(scenario, tolerance_factor=tolerance_factor)
    kept = {0.0: stepper.outputs}
    for before, after in itertools.pairwise(ul.race_inputs(scenario)):
        length = after["time"] - before["time"]
        for piece in range(1, pieces):
            between = after.copy()
            for name in LINEAR:
                between[name] = before[name] + piece / pieces * (after[name] - before[name])
            stepper.advance(length / pieces, inputs=between)
        stepper.advance(after["time"] - stepper.time, inputs=after)
        kept[stepper.time] = stepper.outputs
    rows = [kept[time] for time in run.time.values.tolist()]
    return Traces(np.array([row.oil_temperature for row in rows]).T, np.array([row.headspace_pressure for row in rows]))


def in_a_host(scenario: ul.Scenario, run: xr.Dataset, archive: Path, slopes: bool) -> Traces:
    """Drive a unit of co-simulation by FMPy: inputs along slopes, or held for each step as they are at its end."""
    description = fmpy.read_model_description(str(archive))
    reference = {variable.name: variable.valueReference for variable in description.modelVariables}
    kinds = {variable.name: variable.type for variable in description.modelVariables}
    unit = FMU2Slave(
        guid=description.guid,
        unzipDirectory=fmpy.extract(str(archive)),
        modelIdentifier=description.coSimulation.modelIdentifier,
        instanceName="truck",
    )
    unit.instantiate()
    unit.setupExperiment(startTime=0.0)
    unit.enterInitializationMode()
    unit.exitInitializationMode()
    seen = [reference[f"oil_temperature.{node}"] for node in run.node.values] + [reference["headspace_pressure"]]
    linear, held = [reference[name] for name in LINEAR], [name for name in HELD if kinds[name] == "Real"]
    switches = [name for name in HELD if kinds[name] == "Boolean"]
    kept = {0.0: unit.getReal(seen)}
    for before, after in itertools.pairwise(ul.race_inputs(scenario)):
        length = after["time"] - before["time"]
        if length == 0.0:
            continue
        unit.setReal([reference[name] for name in held], [after[name] for name in held])
        unit.setBoolean([reference[name] for name in switches], [bool(after[name]) for name in switches])
        unit.setReal(linear, [(before if slopes else after)[name] for name in LINEAR])
        if slopes:
            rates = [(after[name] - before[name]) / length for name in LINEAR]
            unit.setRealInputDerivatives(linear, [1] * len(linear), rates)
        unit.doStep(currentCommunicationPoint=before["time"], communicationStepSize=length)
        kept[float(after["time"])] = unit.getReal(seen)
    unit.terminate()
    unit.freeInstance()
    rows = np.array([kept[time] for time in run.time.values.tolist()])
    return Traces(rows[:, :-1].T, rows[:, -1])


def by_a_process(scenario: ul.Scenario) -> Traces:
    """Run the command with the scenario on its standard input."""
    called = [Path(sys.executable).with_name("ullage"), "run", "-", "--json"]
    text = subprocess.run(called, input=scenario.to_toml().encode(), cwd=RACE.parent, capture_output=True, check=True)
    found = json.loads(text.stdout)
    return Traces(figures={name: found[name] for name in FIGURES})


def as_a_function(scenario: ul.Scenario) -> Traces:
    """Ask the function of a vector at the scenario's own point."""
    nodes = ("reservoir", "pump", "steering_gear", "cooler")
    outputs = [*(f"peak_oil_temperature.{node}" for node in nodes), *FIGURES[1:]]
    asked = ul.objective(scenario, vary=["cap.relief_pressure"], outputs=outputs)
    values = np.asarray(asked(asked.x0)).tolist()
    return Traces(
        figures={
            FIGURES[0]: dict(zip(nodes, values[:4], strict=True)),
            **dict(zip(FIGURES[1:], values[4:], strict=True)),
        }
    )


def doors() -> Iterator[list[str]]:
    """Go through the doors: what each gives less what `simulate` gives."""
    scenario = ul.load_scenario(RACE)
    run, tight = ul.simulate(scenario), ul.simulate(scenario, tolerance_factor=1e-3)
    yield row("`ul.Stepper`", "the samples, 1 s", stepped(scenario, run, 1), run)
    yield row("`ul.Stepper`", "0.1 s", stepped(scenario, run, 10), run)
    yield row("`ul.Stepper`, both at `tolerance_factor=0.001`", "0.1 s", stepped(scenario, tight, 10, 1e-3), tight)
    with tempfile.TemporaryDirectory() as folder:
        archive = Path(folder) / "unit.fmu"
        export_unit(scenario, archive)
        yield row(
            "FMI unit in FMPy, inputs with slopes", "the samples, 1 s", in_a_host(scenario, run, archive, True), run
        )
        yield row("FMI unit in FMPy, inputs held", "the samples, 1 s", in_a_host(scenario, run, archive, False), run)
    yield row("`ul.objective`", "", as_a_function(scenario), run)
    yield row("`ullage run - --json`", "", by_a_process(scenario), run)


def row(door: str, steps: str, found: Traces, run: xr.Dataset) -> list[str]:
    """Return a row of the table."""
    if found.figures is not None:
        expected = summarise(run)
        same = all(found.figures[name] == expected[name] for name in FIGURES)
        return [door, steps, "", "", "the same" if same else "DIFFER"]
    assert found.temperature is not None
    assert found.pressure is not None
    kelvin = float(np.abs(found.temperature - run.oil_temperature.values).max())
    pascal = float(np.abs(found.pressure - run.headspace_pressure.values).max())
    return [door, steps, shown(kelvin), shown(pascal), ""]


def shown(difference: float) -> str:
    """Return a difference to one digit; rounding, and nothing at all, are told apart."""
    if difference == 0.0:
        return "0"
    digits = max(0, -math.floor(math.log10(difference)))
    return f"{difference:.{digits}f}" if difference > 1e-6 else f"{difference:.0e}"


def table() -> str:
    """Return the table in Markdown."""
    lines = [HEADER, ["---"] * len(HEADER), *doors()]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def page(written: str) -> str:
    """Return the page with the table renewed."""
    begin = written.index(f"| {HEADER[0]} | {HEADER[1]} |")
    end = written.find("\n\n", begin)
    return written[:begin] + table() + written[end:]


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
