"""Time how long the library and the command take to start.

    python benchmarks/start.py [--quick]

Checks first that the run from an empty cache finishes with its balances closed, and that a run from a full one finds
the same to the last bit. Prints JSON lines with name, value and unit: medians of whole processes, the interpreter's own
start among them. The first run compiles into an empty cache; all others find what it left there, and byte code, as an
installed package does.
"""

from __future__ import annotations

import compileall
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from figures import FEWER_REPEATS, REPEATS, ROOT, SCENARIO, quick_asked, show

COMMAND = ("-c", "from ullage.cli import script; script()")
RUN = (*COMMAND, "run", str(SCENARIO))
MOST_BALANCE = 1e-9  # what may be missing of oil, air and energy, over what there is


def seconds(repeats: int, cache: str, *arguments: str) -> float:
    """Return the median time of a Python process [s]."""
    environment, times = {**os.environ, "XDG_CACHE_HOME": cache}, []
    for _ in range(repeats):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, env=environment)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def figures_of(folder: str) -> dict[str, Any]:
    """Return the summary figures that a run has written."""
    found: dict[str, Any] = json.loads((Path(folder) / "summary.json").read_text())
    return found


def sound(cold: dict[str, Any], warm: dict[str, Any]) -> bool:
    """Return whether a race has finished with its balances closed, the same from both; say so if not."""
    closed = all(cold[f"{name}_balance"] < MOST_BALANCE for name in ("oil", "air", "energy"))
    kept = cold["status"] == "done" and closed and warm == cold
    if not kept:
        print("the run is not right: no timing", file=sys.stderr)
    return kept


def main() -> int:
    """Check, then time."""
    repeats = FEWER_REPEATS if quick_asked(__doc__) else REPEATS
    compileall.compile_dir(ROOT / "src", quiet=2)
    with tempfile.TemporaryDirectory() as folder:
        results, cache = f"{folder}/race", f"{folder}/cache"
        first = seconds(1, cache, *RUN, "--out", results)
        cold = figures_of(results)
        seconds(1, cache, *RUN, "--out", results)
        if not sound(cold, figures_of(results)):
            return 1
        show("first_run_seconds", first, "s")
        warm = {
            "interpreter_seconds": ("-c", "pass"),
            "import_seconds": ("-c", "import ullage"),
            "help_seconds": (*COMMAND, "--help"),
            "check_seconds": (*COMMAND, "check", str(SCENARIO)),
            "run_without_files_seconds": RUN,
            "warm_run_seconds": (*RUN, "--out", results),
            "pit_seconds": (*COMMAND, "pit", str(SCENARIO)),
        }
        for name, arguments in warm.items():
            show(name, seconds(repeats, cache, *arguments), "s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
