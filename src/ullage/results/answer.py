"""What a program gets as JSON in place of figures: the faults of its input, or why there are none."""

from __future__ import annotations

import json
from typing import Any

from ullage.errors import ScenarioError, SimulationError, UllageError, printable
from ullage.results.variables import FORMAT_VERSION

DONE = "done"
FAILED = "failed"
BAD_INPUT = "bad input"


def error_json(error: Exception) -> str:
    """Write an error as JSON.

    Parameters
    ----------
    error : Exception
        What went wrong.

    Returns
    -------
    str
        The faults of a scenario, each with its place; else reason, remedy, and of a race that could not be finished
        the time and the figures up to there. ASCII alone.
    """
    told = _faults(error) if isinstance(error, ScenarioError) else _failure(error)
    return json.dumps({"format_version": FORMAT_VERSION, **told}, indent=2, allow_nan=False)


def _faults(error: ScenarioError) -> dict[str, Any]:
    faults = [{**fault._asdict(), "file": printable(fault.file)} for fault in error.faults]
    return {"outcome": BAD_INPUT, "faults": faults}


def _failure(error: Exception) -> dict[str, Any]:
    if not isinstance(error, SimulationError):
        reason = printable(error_text(error))
        return {"outcome": FAILED, "reason": reason, "remedy": None, "time": None, "figures": None}
    figures = None if error.partial is None else json.loads(error.partial.attrs["summary"])
    return {
        "outcome": FAILED,
        "reason": error.reason,
        "remedy": error.remedy,
        "time": error.time,
        "figures": figures,
    }


def error_text(error: Exception) -> str:
    """Return an error as a sentence for people.

    Parameters
    ----------
    error : Exception
        What went wrong.

    Returns
    -------
    str
        What it says itself; of what nobody foresaw, that it is an error inside.
    """
    if isinstance(error, UllageError):
        return str(error)
    if isinstance(error, MemoryError):
        return "the memory of this machine is not enough: take fewer members or traces, or a smaller file"
    return f"internal error: {error!r}; set ULLAGE_DEBUG=1 for details and report it"
