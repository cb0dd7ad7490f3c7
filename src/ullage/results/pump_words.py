"""What the pump gets, in a builder's words: what took the feed pressure, what starves it, what gas does to it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ullage.results.display import System, gauge_text, shown_text
from ullage.results.verdict import duration_text, moment
from ullage.units import clock

WEAK_STEERING = 0.7  # own choice: share of the best flow to the steering below which a crew notices


def lowest_feed(figures: dict[str, Any], units: System) -> Iterator[str]:
    """Say what took the feed pressure where it was lowest; nothing where something starves, which has its own words.

    Parameters
    ----------
    figures : dict
        Summary figures.
    units : str
        "metric" or "us".
    """
    if figures["lowest_feed_gauge_pressure"] is None or figures["time_starved"] > 0.0:
        return
    tank = figures["headspace_gauge_pressure_at_lowest_feed"]
    cost = tank - figures["lowest_feed_gauge_pressure"]
    took = "line, speed and height took" if cost >= 0.0 else "the height of the tank added"
    yield (
        f"Lowest feed at {clock(figures['lowest_feed_time'])}: the tank had {gauge_text(tank, units)}, "
        f"{took} {shown_text(abs(cost), 'Pa', units)}."
    )


def pump_warnings(figures: dict[str, Any], units: System) -> Iterator[str]:
    """Go through the warnings about the pump.

    Parameters
    ----------
    figures : dict
        Summary figures.
    units : str
        "metric" or "us".
    """
    if figures["time_starved"] > 0.0:
        yield (
            f"the feed line cannot bring the flow for {duration_text(figures['time_starved'])}: oil too thick, line "
            "too thin or too long, strainer dirty, or pump too fast; the pump fills in part only, growls and wears"
        )
    if figures["time_chambers_unfilled"] > 0.0:
        yield (
            f"the pump's own port cannot fill it for {duration_text(figures['time_chambers_unfilled'])}: oil too thick "
            "or pump too fast; a bigger line alone does not help"
        )
    if figures["time_outlet_uncovered"] > 0.0:
        first = moment(figures, figures["first_uncovered_time"], figures["first_uncovered_lap"])
        yield (
            f"the outlet of the tank sucks air, first {first}, and has it in the line for "
            f"{duration_text(figures['time_outlet_uncovered'])}: more oil, a lower outlet or baffles"
        )
    best, least = figures["highest_steering_flow"], figures["lowest_steering_flow_with_gas"]
    if least is not None and least < WEAK_STEERING * best:
        most, left = shown_text(best, "m3 s-1", units), shown_text(least, "m3 s-1", units)
        yield f"with gas in the pump the flow to the steering falls to {left} (best {most}): the steering goes away"
