"""The phone screen of a race: lights first, then what they mean in a builder's words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

import xarray as xr

from ullage.results.air_words import Bracket, air_sentences, air_table
from ullage.results.display import System, gauge_text, shown_text
from ullage.results.measured_words import misfit_lines, misfit_warnings
from ullage.results.pump_words import lowest_feed, pump_warnings
from ullage.results.summary import summarise
from ullage.results.tank_words import NOTHING_TO_SPEND, tank_sentences
from ullage.results.verdict import (
    GAS,
    HOT_TO_OPEN,
    OVER_RATING,
    RED,
    Verdict,
    duration_text,
    liquid_full,
    moment,
    over_rating,
    verdicts,
)
from ullage.units import clock

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
        sentences, how far the model is from what was measured, warnings, balances. Three significant digits.
    """
    figures = summarise(data)
    laps = "1 lap, " if figures["laps"] == 1 else f"{figures['laps']} laps, "
    driven = f"{shown_text(figures['distance'], 'm', units)}, {laps}" if figures["distance"] > 0.0 else ""
    lines = [
        str(data.attrs["title"] or "untitled scenario"),
        f"{driven}{duration_text(figures['duration'])}",
        *([OVER_RATING] if over_rating(figures) else []),
        *_fault_lines(figures),
    ]
    lights = verdicts(data, units)
    for verdict in lights:
        lines += [f"{verdict.light.upper():<5}  {verdict.about}: {verdict.found}", f"       {verdict.limit}"]
    if bracket is not None:
        lines += air_table(bracket, units)
    for sentence in _sentences(data, figures, lights, bracket, units):
        lines += wrapped(sentence)
    for warning in _warnings(figures, units):
        lines += textwrap.wrap(f"warning: {warning}", _WIDTH, subsequent_indent="  ")
    return "\n".join([*lines, _balances(figures)])


def wrapped(text: str) -> list[str]:
    """Break a text into lines, none of them between a number and its per cent sign."""
    return [
        line.replace("\N{NO-BREAK SPACE}", " ")
        for line in textwrap.wrap(text.replace(" %", "\N{NO-BREAK SPACE}%"), _WIDTH)
    ]


def _balances(figures: dict[str, Any]) -> str:
    shown = [f"{name} {figures[f'{name}_balance']:.1e}" for name in ("oil", "air", "energy")]
    return f"balances: {', '.join(shown)}"


def _sentences(
    data: xr.Dataset, figures: dict[str, Any], lights: list[Verdict], bracket: Bracket | None, units: System
) -> Iterator[str]:
    yield from tank_sentences(data, figures, units)
    yield from lowest_feed(figures, units)
    gas = next((verdict for verdict in lights if verdict.about == GAS), None)
    if gas is not None:
        if gas.light == RED:
            yield "With gas in it a pump growls or whines, and wears; milky or foamy oil is the sign."
        if bracket is not None:
            yield from air_sentences(bracket, data.attrs["air_model"])
        yield "Gas numbers are good to a factor of a few: read set-ups against each other."
    yield from misfit_lines(figures, units)


def _fault_lines(figures: dict[str, Any]) -> Iterator[str]:
    for fault in figures["faults"]:
        end = "" if fault["end"] is None else f" until {clock(fault['end'])}"
        yield f"fault: {fault['name']} {moment(figures, fault['begin'], fault['lap'])}{end}"


def _warnings(figures: dict[str, Any], units: System) -> Iterator[str]:
    for opening in figures["cap_openings"]:
        oil, gauge = shown_text(opening["hottest_oil"], "K", units), gauge_text(opening["gauge_pressure"], units)
        spent = ", and the pressure is spent" if opening["gauge_pressure"] > NOTHING_TO_SPEND else ""
        if opening["hottest_oil"] > HOT_TO_OPEN:
            yield f"the cap is taken off with oil at {oil} and {gauge}: that burns{spent}"
    if figures["cap_off_at_end"]:
        yield "the cap is off at the end of the race"
    yield from pump_warnings(figures, units)
    if liquid_full(figures):
        yield "the tank is full to the last drop: hot oil has no room to grow into; lower the mark"
    for part, name in (("shaft seal", "seal"), ("tank", "tank")):
        margin = figures[f"lowest_{name}_margin"]
        if margin < 0.0:
            over = shown_text(-margin, "Pa", units)
            yield f"the {part} is {over} over its rating: it may burst"
    yield from misfit_warnings(figures, units)
    if figures["left_oil_range"]:
        yield "oil went over 200 degC: no oil stands that, and the figures after it mean little"
    if figures["at_vapour_pressure"]:
        yield "the air space held hardly anything but vapour: the oil is too wet for its heat"
