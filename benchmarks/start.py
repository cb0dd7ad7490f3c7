"""Time how long the library and the command take to start.

    python benchmarks/start.py [--quick]

Prints JSON lines with name, value and unit: medians of whole processes, the interpreter's own start among them. The
first run compiles into an empty cache; all others find what it left there, and byte code, as an installed package does.
"""

from __future__ import annotations

import compileall
import os
import statistics
import subprocess
import sys
import tempfile
import time

from figures import FEWER_REPEATS, REPEATS, ROOT, SCENARIO, quick_asked, show

COMMAND = ("-c", "from ullage.cli import script; script()")
RUN = (*COMMAND, "run", str(SCENARIO))


def seconds(repeats: int, cache: str, *arguments: str) -> float:
    """Return the median time of a Python process [s]."""
    environment, times = {**os.environ, "XDG_CACHE_HOME": cache}, []
    for _ in range(repeats):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, env=environment)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> int:
    """Time and print."""
    repeats = FEWER_REPEATS if quick_asked(__doc__) else REPEATS
    compileall.compile_dir(ROOT / "src", quiet=2)
    with tempfile.TemporaryDirectory() as folder:
        results, cache = f"{folder}/race", f"{folder}/cache"
        show("first_run_seconds", seconds(1, cache, *RUN, "--out", results), "s")
        warm = {
            "interpreter_seconds": ("-c", "pass"),
            "import_seconds": ("-c", "import ullage"),
            "help_seconds": (*COMMAND, "--help"),
            "check_seconds": (*COMMAND, "check", str(SCENARIO)),
            "run_without_files_seconds": RUN,
            "warm_run_seconds": (*RUN, "--out", results),
        }
        for name, arguments in warm.items():
            show(name, seconds(repeats, cache, *arguments), "s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
