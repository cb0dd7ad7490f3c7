"""Time how long the library and the command take to start.

    python benchmarks/start.py [--quick]

Checks accuracy first, as `floor.py` does, and that a run from kept code ends as the run that compiled it, to the last
bit. The first run compiles into an empty cache. Prints JSON lines with name, value and unit; medians of whole
processes.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from figures import (
    FEWER_REPEATS,
    REPEATS,
    SCENARIO,
    TIGHT,
    accurate,
    demo_race,
    errors,
    quick_asked,
    show,
    solution_of,
)
from ullage.results.trace import trace_race

COMMAND = "from ullage.cli import script; script()"


def seconds(repeats: int, *arguments: str, cache: str | None = None) -> float:
    """Return the median time of a Python process [s]."""
    environment = {**os.environ, "XDG_CACHE_HOME": cache} if cache else None
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, env=environment)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def runs(repeats: int) -> bool:
    """Print how long the first run and later ones take; return whether they tell the same."""
    with tempfile.TemporaryDirectory() as folder:
        run, summary = (
            ("-c", COMMAND, "run", str(SCENARIO), "--out", f"{folder}/race"),
            Path(folder, "race/summary.json"),
        )
        first = seconds(1, *run, cache=f"{folder}/cache")
        told = summary.read_bytes()
        warm = seconds(repeats, *run, cache=f"{folder}/cache")
        same = summary.read_bytes() == told
    if same:
        show("first_run_seconds", first, "s")
        show("warm_run_seconds", warm, "s")
    else:
        print("a run from kept code differs from the run that compiled it", file=sys.stderr)
    return same


def main() -> int:
    """Check, then time."""
    repeats = FEWER_REPEATS if quick_asked(__doc__) else REPEATS
    found, fine = (solution_of(trace_race(demo_race(tolerance_factor=factor)).rows) for factor in (1.0, TIGHT))
    if not accurate(errors(found, fine)):
        return 1
    show("interpreter_seconds", seconds(repeats, "-c", "pass"), "s")
    show("import_seconds", seconds(repeats, "-c", "import ullage"), "s")
    show("help_seconds", seconds(repeats, "-c", COMMAND, "--help"), "s")
    show("check_seconds", seconds(repeats, "-c", COMMAND, "check", str(SCENARIO)), "s")
    return 0 if runs(repeats) else 1


if __name__ == "__main__":
    sys.exit(main())
