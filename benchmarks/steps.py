"""Time steps of 10 ms: in the kernel, through Python, in a unit of co-simulation, and beside the whole race.

    python benchmarks/steps.py [--quick]

Checks first that the stepper gives the race to the last bit where its steps end on samples, and keeps what is promised
where they do not. Prints JSON lines with name, value and unit. The unit needs a C compiler and FMPy.
"""

from __future__ import annotations

import itertools
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import ullage as ul
from figures import FEWER_REPEATS, MOST_KELVIN, MOST_PASCAL, REPEATS, ROOT, clock, quick_asked, show
from ullage.kernel.unit import advance_unit, begin_unit
from ullage.scenario.compile import compile_unit

RACE = ROOT / "scenarios" / "short_loop.toml"
STEP, STEPS = 0.01, 10_000
DRIVEN = {"engine_speed": 320.0, "vehicle_speed": 15.0, "steering_load": 2e6}


def sound(scenario: ul.Scenario) -> bool:
    """Return whether steps of a sample are the race, and steps of a third of one are near it; say so if not."""
    run, rows = ul.simulate(scenario), ul.race_inputs(scenario)
    for pieces, kelvin, pascal in ((1, 0.0, 0.0), (3, MOST_KELVIN, MOST_PASCAL)):
        stepper, seen = ul.Stepper(scenario), {}
        for before, after in itertools.pairwise(rows):
            for piece in range(1, pieces + 1):
                between = after.copy()
                for name in rows.dtype.names[:10]:
                    between[name] += (piece / pieces - 1.0) * (after[name] - before[name])
                stepper.advance(float(between["time"]) - stepper.time, inputs=between)
            seen[stepper.time] = stepper.outputs
        times = [time for time in run.time.values.tolist() if time in seen]
        oil = np.array([seen[time].oil_temperature for time in times]).T - run.oil_temperature.sel(time=times).values
        gas = [seen[time].headspace_pressure for time in times] - run.headspace_pressure.sel(time=times).values
        if len(times) < len(run.time) - 1 or np.abs(oil).max() > kelvin or np.abs(gas).max() > pascal:
            print(f"steps of 1/{pieces} of a sample are not the race: no timing", file=sys.stderr)
            return False
    return True


def microseconds(step: Callable[[int], object], repeats: int) -> float:
    """Return the least time of a step, of all repeats."""
    best = np.inf
    for repeat in range(repeats):
        start = clock()
        for number in range(repeat * STEPS, (repeat + 1) * STEPS):
            step(number)
        best = min(best, clock() - start)
    return 1e6 * best / STEPS


def in_fmpy(scenario: ul.Scenario, folder: str) -> tuple[Any, Any]:
    """Return a unit that has been initialized, and the references of what drives it."""
    import fmpy
    from fmpy.fmi2 import FMU2Slave

    from ullage.embed.fmi import export_unit

    archive = Path(folder) / "unit.fmu"
    made = export_unit(scenario, archive)
    description = fmpy.read_model_description(str(archive))
    show("unit_bytes", made.size, "B")
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
    reference = {variable.name: variable.valueReference for variable in description.modelVariables}
    return unit, [reference[name] for name in DRIVEN]


def main() -> int:
    """Check, then time."""
    repeats = FEWER_REPEATS if quick_asked(__doc__) else REPEATS
    scenario = ul.load_scenario(RACE)
    if not sound(scenario):
        return 1
    units = compile_unit(scenario.spec)
    begin_unit(units)
    kernel = microseconds(lambda _: advance_unit(units, STEP), repeats)
    stepper = ul.Stepper(scenario)
    show("kernel_step_from_python_us", kernel, "us")
    show("step_us", microseconds(lambda _: stepper.advance(STEP), repeats), "us")
    show("step_with_inputs_us", microseconds(lambda _: stepper.advance(STEP, **DRIVEN), repeats), "us")

    def with_outputs(_: int) -> None:
        stepper.advance(STEP, **DRIVEN)
        assert stepper.outputs.time > 0.0

    show("step_with_inputs_and_outputs_us", microseconds(with_outputs, repeats), "us")
    with tempfile.TemporaryDirectory() as folder:
        try:
            unit, references = in_fmpy(scenario, folder)
        except (ul.UllageError, ImportError) as error:
            print(f"no unit: {error}", file=sys.stderr)
            return 1

        def in_a_host(number: int) -> None:
            unit.doStep(currentCommunicationPoint=number * STEP, communicationStepSize=STEP)

        def driven_in_a_host(number: int) -> None:
            unit.setReal(references, DRIVEN.values())
            in_a_host(repeats * STEPS + number)

        show("step_of_a_unit_in_fmpy_us", microseconds(in_a_host, repeats), "us")
        show("step_of_a_unit_with_inputs_in_fmpy_us", microseconds(driven_in_a_host, repeats), "us")
    return 0


if __name__ == "__main__":
    sys.exit(main())
