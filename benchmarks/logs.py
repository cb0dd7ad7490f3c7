"""What a long log costs: five hours at 100 Hz with eight channels, read, averaged over the samples, and marched.

    python benchmarks/logs.py [--quick]

Checks accuracy first: with samples of a second every channel, and the products of load with engine speed and vehicle
speed, have the integral of the rows to 0.1 %. Then the log is loaded in fresh processes, all compiled before; the floor
is to hash the bytes and to let pandas read the same columns. Needs Linux. Prints JSON lines with name, value and unit;
times and ratios are medians.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

import ullage as ul
from figures import FEWER_REPEATS, REPEATS, show
from ullage.scenario.race import race_pieces

RATE = 100
HOURS, FEWER_HOURS = 5.0, 0.5
MOST_ERROR = 1e-3  # what the pages promise
TRUCK = Path(__file__).parents[1] / "scenarios" / "logger_lap.toml"
COLUMNS = {
    "engine_speed": ("engine (rpm)", "rpm"),
    "vehicle_speed": ("speed (km/h)", "km/h"),
    "steering_load": ("ram (bar)", "bar"),
    "elevation": ("height (m)", "m"),
    "forward_acceleration": ("forward (g)", "gn"),
    "left_acceleration": ("left (g)", "gn"),
    "upward_acceleration": ("up (g)", "gn"),
}
LOAD = """
import json, resource, sys, time
import ullage as ul
begun = time.perf_counter()
scenario = ul.load_scenario(sys.argv[1])
loaded = time.perf_counter() - begun
scenario.replace({"cap.relief_pressure": "12 psi"})
again = time.perf_counter() - begun - loaded
print(json.dumps([loaded, again, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))
"""
FLOOR = """
import hashlib, sys, time
import pandas
begun = time.perf_counter()
with open(sys.argv[1], "rb") as file:
    hashlib.sha256(file.read()).hexdigest()
pandas.read_csv(sys.argv[1], usecols=range(8), dtype="float64")
print(time.perf_counter() - begun)
"""


def wandering(random: np.random.Generator, rows: int, quick: float) -> np.ndarray:
    """Return smooth noise of mean 0 and spread 1 whose correlation time is some seconds."""
    steps = max(int(rows / RATE / quick), 2) + 1
    return np.interp(np.linspace(0.0, steps - 1, rows), np.arange(steps), random.normal(size=steps))


def write_log(folder: Path, hours: float) -> Path:
    """Write an invented log with its scenario."""
    random, rows = np.random.default_rng(5), int(hours * 3600 * RATE) + 1
    pulses = np.where(random.uniform(size=rows // 60 + 1) < 0.3, random.uniform(0.0, 70.0, size=rows // 60 + 1), 0.0)
    table = {
        "time (s)": np.arange(rows) / RATE,
        "engine (rpm)": np.clip(4200.0 + 900.0 * wandering(random, rows, 2.0) + random.normal(0, 20, rows), 800, 7000),
        "speed (km/h)": np.clip(55.0 + 20.0 * wandering(random, rows, 4.0) + random.normal(0, 0.3, rows), 0, 180),
        "ram (bar)": np.repeat(12.0 + pulses, 60)[:rows] + random.uniform(0, 2, rows),
        "height (m)": 1000.0 + 200.0 * wandering(random, rows, 300.0),
        "forward (g)": 0.3 * wandering(random, rows, 1.0),
        "left (g)": 0.4 * wandering(random, rows, 1.0),
        "up (g)": np.clip(random.normal(0, 0.4, rows), -2.5, 9.0),
        "oil (degC)": 95.0 + 5.0 * wandering(random, rows, 60.0),
    }
    digits = {"time (s)": 2, "engine (rpm)": 0, "forward (g)": 3, "left (g)": 3, "up (g)": 3}
    rounded = {name: np.round(values, digits.get(name, 1)) for name, values in table.items()}
    pd.DataFrame(rounded).to_csv(folder / "log.csv", index=False)
    head = TRUCK.read_text(encoding="utf-8").partition("[duty]")[0]
    duty = ["[duty.recording]", 'file = "log.csv"', 'time = { column = "time (s)" }']
    duty += [f'{name} = {{ column = "{header}", unit = "{unit}" }}' for name, (header, unit) in COLUMNS.items()]
    path = folder / "log.toml"
    path.write_text("\n".join([head, "[duty]", *duty, ""]), encoding="utf-8")
    return path


def check(path: Path) -> float:
    """Return the worst relative error of an integral over the samples, of channels and of two products."""
    scenario = ul.load_scenario(path)
    log, (piece,) = scenario.spec.duty.recording.log, race_pieces(scenario.spec)[0]
    worst = 0.0
    for names in [
        *((name,) for name in log.channels),
        ("steering_load", "engine_speed"),
        ("steering_load", "vehicle_speed"),
    ]:
        rows, knots = (
            np.trapezoid(np.prod([values[name] for name in names], axis=0), time)
            for values, time in ((log.channels, log.time), (piece.profile._asdict(), piece.profile.time))
        )
        scale = np.trapezoid(np.prod([np.abs(log.channels[name]) for name in names], axis=0), log.time)
        worst = max(worst, abs(knots - rows) / scale)
    return worst


def measured(code: str, path: Path) -> list[float]:
    """Run code in a fresh process and return the numbers that it prints."""
    out = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    return np.atleast_1d(json.loads(out.stdout)).tolist()


def main() -> None:
    """Check, then time."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    quick = parser.parse_args().quick
    with tempfile.TemporaryDirectory() as name:
        path = write_log(Path(name), FEWER_HOURS if quick else HOURS)
        worst = check(path)
        show("integrals over samples: worst error", worst, "1")
        if worst > MOST_ERROR:
            sys.exit("the samples do not keep the integrals: no time is worth measuring")
        runs = [
            (measured(LOAD, path), measured(FLOOR, path.with_suffix(".csv")))
            for _ in range(FEWER_REPEATS if quick else REPEATS)
        ]
        size = path.with_suffix(".csv").stat().st_size
    loads, floors = [run[0] for run in runs], [run[1][0] for run in runs]
    show("size of the log", size / 1e6, "MB")
    show("load", statistics.median(load[0] for load in loads), "s")
    show("load again with another value", statistics.median(load[1] for load in loads), "s")
    show("peak memory of the process", max(load[2] for load in loads), "MB")
    show("hash and pandas alone", statistics.median(floors), "s")
    show("load over floor", statistics.median(load[0] / floor for load, floor in zip(loads, floors, strict=True)), "1")


if __name__ == "__main__":
    main()
