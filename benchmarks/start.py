"""Time how long the library and the command take to start.

    python benchmarks/start.py

Prints JSON lines with name, value and unit; medians of whole processes.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path

REPEATS = 7
SCENARIO = Path(__file__).parent.parent / "scenarios" / "ironwood.toml"
COMMAND = "from ullage.cli import main; main()"


def seconds(*arguments: str) -> float:
    """Return the median time of a Python process [s]."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> int:
    """Time and print."""
    figures = {
        "interpreter_seconds": seconds("-c", "pass"),
        "import_seconds": seconds("-c", "import ullage"),
        "help_seconds": seconds("-c", COMMAND, "--help"),
        "check_seconds": seconds("-c", COMMAND, "check", str(SCENARIO)),
        "warm_run_seconds": seconds("-c", COMMAND, "run", str(SCENARIO)),
    }
    for name, value in figures.items():
        print(json.dumps({"name": name, "value": round(value, 3), "unit": "s"}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
