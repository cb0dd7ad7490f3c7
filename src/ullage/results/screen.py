"""The phone screen of a race: lights first, then what they mean in a builder's words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

import xarray as xr

from ullage.results.air_words import Bracket, air_sentences, air_table
from ullage.results.display import System, gauge_text, shown_text
from ullage.results.summary import summarise
from ullage.results.verdict import GAS, GREEN, HOT_TO_OPEN, Verdict, duration_text, verdicts
from ullage.units import clock

FIRST_HOUR, TAKEN_UP = 0.35, 0.75
NOTHING_TO_SPEND = 500.0
LITTLE_AIR = 0.02

_WIDTH = 66


def summary_text(data: xr.Dataset, units: System, bracket: Bracket | None = None) -> str:
    """Write the summary of a race in a builder's words.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    units : str
        "metric" or "us".
    bracket : dict or None
        Summary figures of the race by model of the air, as `summarise` gives them of `bracket_air`.

    Returns
    -------
    str
        One screen of a phone: title, lights with the numbers that set them, what hangs on the model of the air,
        sentences, warnings, balances. Three significant digits.
    """
    figures = summarise(data)
    laps = "1 lap" if figures["laps"] == 1 else f"{figures['laps']} laps"
    driven = f"{shown_text(figures['distance'], 'm', units)}, " if figures["distance"] > 0.0 else ""
    lines = [
        str(data.attrs["title"] or "untitled scenario"),
        f"{driven}{laps}, {duration_text(figures['duration'])}",
    ]
    lights = verdicts(data, units)
    for verdict in lights:
        lines += [f"{verdict.light.upper():<5}  {verdict.about}: {verdict.found}", f"       {verdict.limit}"]
    if bracket is not None:
        lines += air_table(bracket, units)
    for sentence in [*_sentences(data, figures, units), *_gas_sentences(data, lights, bracket)]:
        lines += _wrapped(sentence)
    for warning in _warnings(figures, units):
        lines += textwrap.wrap(f"warning: {warning}", _WIDTH, subsequent_indent="  ")
    return "\n".join([*lines, _balances(figures)])


def _wrapped(text: str) -> list[str]:
    """Break a text into lines, none of them between a number and its per cent sign."""
    return [
        line.replace("\N{NO-BREAK SPACE}", " ")
        for line in textwrap.wrap(text.replace(" %", "\N{NO-BREAK SPACE}%"), _WIDTH)
    ]


def _balances(figures: dict[str, Any]) -> str:
    shown = [f"{name} {figures[f'{name}_balance']:.1e}" for name in ("oil", "air", "energy")]
    return f"balances: {', '.join(shown)}"


def _sentences(data: xr.Dataset, figures: dict[str, Any], units: System) -> Iterator[str]:
    yield _regime(data, figures)
    yield from _price_of_opening(figures, units)
    yield from _after_refit(figures, units)
    if figures["lowest_feed_gauge_pressure"] is not None:
        yield _lowest_feed(figures, units)


def _gas_sentences(data: xr.Dataset, lights: list[Verdict], bracket: Bracket | None) -> Iterator[str]:
    gas = next((verdict for verdict in lights if verdict.about == GAS), None)
    if gas is None:
        return
    if gas.light != GREEN:
        yield "With gas in it a pump growls or whines, and wears; milky or foamy oil is the sign."
    if bracket is not None:
        yield from air_sentences(bracket, data.attrs["air_model"])
    yield "Gas numbers are good to a factor of a few: read them against each other, not as truth."


def _regime(data: xr.Dataset, figures: dict[str, Any]) -> str:
    if "cap_relief_pressure" not in data.attrs:
        return "The tank breathes: its air space stays at ambient, whatever the fill."
    if figures["cap_off_at_end"]:
        return "The cap is off at the end: the air space is at ambient and the pump has only the height of the tank."
    taken, gone = figures["air_taken_up"], figures["air_vented_share"]
    share = f"the oil has had the time for {100.0 * taken:.0f} % of the way to drinking all the air it can"
    if gone > LITTLE_AIR:
        return (
            f"Air space short of air: the cap has let out {100.0 * gone:.0f} % of the air that was shut in, so the "
            f"pressure is no longer that of fill and heat, and cold oil ends in a vacuum; {share}."
        )
    if taken < FIRST_HOUR:
        return f"Air space in its first hour: fill and cap set the pressure; {share}."
    if taken > TAKEN_UP:
        return f"Air space taken up: {share}; heat and the air shut in at the start set the pressure, not fill or cap."
    return f"Air space between its first hour and taken up: {share}; the pressure from the fill is fading."


def _price_of_opening(figures: dict[str, Any], units: System) -> Iterator[str]:
    places = [{**stop, "name": f"the stop '{stop['name']}'"} for stop in figures["stops"]]
    if not figures["cap_off_at_end"]:
        places.append({**figures["finish"], "name": "the finish"})
    if not places:
        return
    worst = max(places, key=lambda place: float(place["gauge_pressure"]))
    if worst["gauge_pressure"] > NOTHING_TO_SPEND:
        oil, pressure = shown_text(worst["hottest_oil"], "K", units), shown_text(worst["gauge_pressure"], "Pa", units)
        yield (
            f"Leave it shut: at {worst['name']} the oil is at {oil} and the tank holds {pressure} over ambient; "
            "opening the cap spends all of it at once."
        )
        return
    hottest = max(places, key=lambda place: float(place["hottest_oil"]))
    oil, gauge = shown_text(hottest["hottest_oil"], "K", units), gauge_text(hottest["gauge_pressure"], units)
    if hottest["hottest_oil"] > HOT_TO_OPEN:
        yield (
            f"Leave it shut: at {hottest['name']} the oil is at {oil} with {gauge}; a gauge at zero does not mean "
            "cold oil."
        )


def _after_refit(figures: dict[str, Any], units: System) -> Iterator[str]:
    """Say what came back of the pressure that was spent, and from where: the refitted opening that spent the most."""
    refits = [opening for opening in figures["cap_openings"] if opening["refitted"] is not None]
    spent = max(refits, key=lambda opening: float(opening["gauge_pressure"]), default=None)
    if spent is None or spent["gauge_pressure"] <= NOTHING_TO_SPEND:
        return
    had, back = (shown_text(spent[name], "Pa", units) for name in ("gauge_pressure", "regained_gauge_pressure"))
    came = f"came back to {back}" if spent["regained_gauge_pressure"] > NOTHING_TO_SPEND else "got nothing back"
    yield (
        f"Refitted at {clock(spent['refitted'])}, the tank {came}; it had {had} before, and what made that is spent. "
        f"{_from_oil(spent, units)}"
    )


def _from_oil(spent: dict[str, Any], units: System) -> str:
    share, held = spent["gauge_pressure_from_oil"], spent["gauge_pressure_in_oil"]
    if share is None or share <= NOTHING_TO_SPEND:
        return "Its own oil has nothing to give back: only heat after the refit makes pressure again."
    gives, drunk = shown_text(share, "Pa", units), shown_text(held, "Pa", units)
    rest = spent["regained_gauge_pressure"] - share
    return (
        f"Its own oil gives back up to {gives} in time, of the {drunk} that it had drunk"
        f"{'; heat after the refit makes the rest' if rest > NOTHING_TO_SPEND else ''}."
    )


def _lowest_feed(figures: dict[str, Any], units: System) -> str:
    tank = figures["headspace_gauge_pressure_at_lowest_feed"]
    begin = f"Lowest feed at {clock(figures['lowest_feed_time'])}: the tank had {gauge_text(tank, units)}, and "
    if figures["time_starved"] > 0.0:
        return f"{begin}the line could not bring the flow: oil too thick, line too thin or too long, or pump too fast."
    cost = shown_text(tank - figures["lowest_feed_gauge_pressure"], "Pa", units)
    return f"{begin}line, speed and height took {cost} on the way to the pump."


def _warnings(figures: dict[str, Any], units: System) -> Iterator[str]:
    for opening in figures["cap_openings"]:
        oil, gauge = shown_text(opening["hottest_oil"], "K", units), gauge_text(opening["gauge_pressure"], units)
        spent = ", and the pressure is spent" if opening["gauge_pressure"] > NOTHING_TO_SPEND else ""
        if opening["hottest_oil"] > HOT_TO_OPEN:
            yield f"the cap is taken off with oil at {oil} and {gauge}: that burns{spent}"
    if figures["cap_off_at_end"]:
        yield "the cap is off at the end of the race"
    if figures["time_starved"] > 0.0:
        yield "the feed line cannot bring the flow: the pump fills in part only, growls and wears"
    for part, name in (("shaft seal", "seal"), ("tank", "tank")):
        margin = figures[f"lowest_{name}_margin"]
        if margin < 0.0:
            yield f"the {part} is {shown_text(-margin, 'Pa', units)} over its rating"
    if figures["left_oil_range"]:
        yield "oil went over 200 degC: no oil stands that, and the figures after it mean little"
    if figures["at_vapour_pressure"]:
        yield "the air space held hardly anything but vapour: the oil is too wet for its heat"
