"""What the three models of the air say, side by side in a crew's words, and how far to trust it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ullage.results.display import System, gauge_text
from ullage.results.summary import side_by_side
from ullage.results.verdict import SHORT_SHARE, duration_text
from ullage.units import digits

# own choice: pressures further apart than half a psi are worth a line; gas answers this far apart are the same answer,
# or no answer
WORTH_A_LINE = 3.5e3
SAME_ANSWER, NO_ANSWER = 1.25, 3.0

Bracket = dict[str, dict[str, Any]]

_MOVES = {"frozen": "never", "kinetic": "in its time", "equilibrium": "at once"}
_GAS = "cavitation_exposure"
_THREE = "three assumptions on how fast air moves, none of them a limit"
_ROWS = {
    _GAS: "gas at the pump",
    "lowest_feed_gauge_pressure": "lowest feed",
    "highest_headspace_gauge_pressure": "air space at most",
    "finish_gauge_pressure": "air space at the finish",
}
_NAME, _COLUMN = 24, 14


def air_table(bracket: Bracket, units: System) -> list[str]:
    """Return a table of what hangs on how fast air moves in and out of the oil.

    Parameters
    ----------
    bracket : dict
        Summary figures by model of the air.
    units : str
        "metric" or "us".

    Returns
    -------
    list of str
        Lines of at most 66 characters: gas at the pump, and the pressures that differ by more than half a psi. None
        for a pump that never turns and pressures that agree.
    """
    compared = side_by_side(bracket)
    turns = any(value is not None for value in compared["lowest_feed_gauge_pressure"].values())
    rows = {name: compared[name] for name in _ROWS if (turns if name == _GAS else _differs(compared[name]))}
    if not rows:
        return []
    lines = [_line("air in and out of oil", [_MOVES[model] for model in bracket])]
    for name, values in rows.items():
        shown = [_shown(name, values[model], units) if model in values else "-" for model in bracket]
        lines.append(_line(_ROWS[name], shown))
    return lines


def _differs(pressures: dict[str, float | None]) -> bool:
    known = [value for value in pressures.values() if value is not None]
    return len(known) > 1 and max(known) - min(known) > WORTH_A_LINE


def _line(name: str, columns: list[str]) -> str:
    return f"{name:<{_NAME}}{''.join(f'{column:<{_COLUMN}}' for column in columns)}".rstrip()


def _shown(name: str, value: float | None, units: System) -> str:
    if value is None:
        return "-"
    return duration_text(value) if name == _GAS else gauge_text(value, units).removesuffix(" gauge")


def air_sentences(bracket: Bracket, asked: str) -> Iterator[str]:
    """Go through the sentences that say how far the numbers on gas can be trusted.

    Parameters
    ----------
    bracket : dict
        Summary figures by model of the air.
    asked : str
        Model of the race as asked, the one of the lights.
    """
    if asked != "kinetic":
        yield f"The lights are for air that moves {_MOVES[asked]}, as the scenario asks."
    stopped = [model for model in bracket if bracket[model]["status"] != "done"]
    for model in stopped:
        yield f"If air moves {_MOVES[model]} the race cannot be finished: {bracket[model]['status']}."
    if stopped:
        yield "How far the gas numbers can be trusted is open."
        return
    yield _spread(side_by_side(bracket)[_GAS], bracket[asked]["time_turning"])


def _spread(gas: dict[str, float | None], turning: float) -> str:
    """Say how far the three are apart; the race as asked may lie outside the other two."""
    values = [value for value in gas.values() if value is not None]
    low, high, little = min(values), max(values), SHORT_SHARE * turning
    if high <= little:
        return f"Hardly any gas at the pump under {_THREE}."
    ratio = high / max(low, little)
    if ratio <= SAME_ANSWER:
        return f"Gas at the pump is nearly the same under {_THREE}."
    apart = f"Gas at the pump differs by a factor of {digits(ratio, 2)} over {_THREE}"
    if ratio <= NO_ANSWER:
        return f"{apart}."
    return f"{apart}: how much the pump really gets this model cannot tell."
