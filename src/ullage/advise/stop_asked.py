"""Which stop and which choices are asked for: from names, times and tables to a checked scenario."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ullage.errors import Fault, ScenarioError, quoted
from ullage.hints import did_you_mean
from ullage.scenario.load import Scenario
from ullage.scenario.race import race_pieces
from ullage.units import UnitError, clock, parse

_STOP_DURATION = "5 min"  # of a stop that is asked for by time only
_LONGEST_RACE = 1e9  # more is no number of seconds


def settled(
    scenario: Scenario, stop: str | float | None, open_for: str | float | None, own: Sequence[Mapping[str, Any]]
) -> tuple[Scenario, str]:
    """Write what is asked for into the scenario's table `pit`, so that it is checked like everything else.

    Parameters
    ----------
    scenario : Scenario
        The race.
    stop : str, float or None
        Name of a stop, or a race time [s]; None is the scenario's own wish, else its first stop.
    open_for : str, float or None
        How long the cap is off [s]; None is the scenario's own wish.
    own : sequence of mapping
        Choices of the crew, as `[[pit.choice]]` holds them, beside those of the scenario.

    Returns
    -------
    tuple
        The scenario, and the name of the stop.

    Raises
    ------
    ScenarioError
        If there is no such stop, or a value cannot be used.
    """
    changes: dict[str, Any] = {}
    if open_for is not None:
        changes["pit.open_for"] = open_for
    if own:
        changes["pit.choice"] = [*scenario.to_dict().get("pit", {}).get("choice", []), *own]
    name, made = _stop_named(scenario, stop)
    changes |= made
    if name != scenario.spec.pit.stop:
        changes["pit.stop"] = name
    return (scenario.replace(changes) if changes else scenario), name


def _stop_named(scenario: Scenario, stop: str | float | None) -> tuple[str, dict[str, Any]]:
    """Return the name of the stop, and the change that makes it if it is asked for by time and there is none."""
    if stop is None:
        wanted = scenario.spec.pit.stop or next(iter(scenario.stops), None)
        if wanted is None:
            raise _no_stop("the race has no stop: add a [[duty.stop]], or ask for a race time, such as '2 h 10 min'")
        return wanted, {}
    if isinstance(stop, str) and stop in scenario.stops:
        return stop, {}
    time, end = _race_time(scenario, stop), race_pieces(scenario.spec)[0][-1].end
    if not 0.0 <= time < end:
        raise _no_stop(f"{quoted(stop)} is not between the start and the end of the race at {clock(end)}")
    for planned in race_pieces(scenario.spec)[1]:
        if planned.start <= time <= planned.end:
            return planned.name, {}
    name = f"stop at {clock(time)}"
    new = {"name": name, "time": time, "duration": _STOP_DURATION}
    return name, {"duty.stop": [*scenario.to_dict()["duty"].get("stop", []), new]}


def _race_time(scenario: Scenario, stop: object) -> float:
    """Return a race time [s] that is given as text with a unit or as a number."""
    if isinstance(stop, int | float) and not isinstance(stop, bool) and abs(stop) <= _LONGEST_RACE:
        return float(stop)
    try:
        return parse(stop if isinstance(stop, str) else "", "time")
    except UnitError:
        there = f"there are: {', '.join(scenario.stops) or 'none'}{did_you_mean(str(stop), list(scenario.stops))}"
        text = f"{quoted(stop)} is neither a stop nor a race time with its unit, such as '2 h 10 min'; {there}"
        raise _no_stop(text) from None


def _no_stop(text: str) -> ScenarioError:
    return ScenarioError([Fault("", None, "pit.stop", text)])
