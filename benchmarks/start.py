"""Time how long the library and the command take to start.

    python benchmarks/start.py

Prints JSON lines with name, value and unit; medians of whole processes. The first run compiles into an empty cache.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

REPEATS = 7
SCENARIO = Path(__file__).parent.parent / "scenarios" / "ironwood.toml"
COMMAND = "from ullage.cli import script; script()"


def seconds(*arguments: str, repeats: int = REPEATS, cache: str | None = None) -> float:
    """Return the median time of a Python process [s]."""
    environment = {**os.environ, "XDG_CACHE_HOME": cache} if cache else None
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, env=environment)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> int:
    """Time and print."""
    figures = {
        "interpreter_seconds": seconds("-c", "pass"),
        "import_seconds": seconds("-c", "import ullage"),
        "help_seconds": seconds("-c", COMMAND, "--help"),
        "check_seconds": seconds("-c", COMMAND, "check", str(SCENARIO)),
    }
    with tempfile.TemporaryDirectory() as folder:
        run = ("-c", COMMAND, "run", str(SCENARIO), "--out", f"{folder}/race")
        figures["first_run_seconds"] = seconds(*run, repeats=1, cache=f"{folder}/cache")
        figures["warm_run_seconds"] = seconds(*run, cache=f"{folder}/cache")
    for name, value in figures.items():
        print(json.dumps({"name": name, "value": round(value, 3), "unit": "s"}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
