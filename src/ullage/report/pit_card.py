"""One page for the wall of the pit: what opening costs here, what the gauges should read, how not to be hurt."""

from __future__ import annotations

import bisect
import functools
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import xarray as xr
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from ullage.report.figures import FOOTER
from ullage.report.pit_blocks import (
    cap_block,
    cooling_block,
    cost_block,
    mark_block,
    opening_block,
    title_block,
    warning_block,
)
from ullage.report.pit_gauges import gauge_block, symptom_block
from ullage.report.typeset import Block, Text, beside, draw, paragraph, stacked
from ullage.results.display import System
from ullage.results.store import written_whole

PIT_CARD = "pit_card"

_DPI = 360.0
_WIDTH, _HEIGHT = 148.0 / 25.4 * 72.0, 210.0 / 25.4 * 72.0  # A5 [pt]
_MARGIN = 15.0
_GAP, _WIDEST_GAP, _GUTTER = 4.0, 12.0, 12.0
_LEFT_SHARES = (0.5, 0.54, 0.57, 0.6)
LEAST_SIZE, _FOOT = 7.2, 7.8
_DEFERENCE = "Makers' data, race rules, local codes and licensed people come first."


# whole pixels at the resolution of the PNG, so that letters stand there as measured [pt]
_SIZES = (8.4, 8.2, 8.0, 7.8, 7.6, 7.4, LEAST_SIZE)


class _Fit(NamedTuple):
    """How a card is set: letters [pt], and the most rows of choices, faults and sentences."""

    size: float
    choices: int = 12
    faults: int = 12
    sentences: int = 6


_FITS = (
    *(_Fit(size) for size in _SIZES),
    *(_Fit(LEAST_SIZE, sentences=most) for most in (4, 3, 2)),
    *(_Fit(LEAST_SIZE, max(rows, 7), rows, 2) for rows in range(10, 4, -1)),
    *(_Fit(LEAST_SIZE, 7, rows, 1) for rows in (5, 4, 3)),
    *(_Fit(LEAST_SIZE, rows, rows, 1) for rows in (5, 4, 3, 2, 1)),
)


def pit_card(
    choices: xr.Dataset, gauges: xr.Dataset, symptoms: xr.Dataset, sentences: Sequence[str], units: System = "metric"
) -> Figure:
    """Compose the card of a stop, A5 portrait.

    Parameters
    ----------
    choices : xarray.Dataset
        Choices at a stop, in SI units.
    gauges : xarray.Dataset
        What the gauges of the healthy truck read, by condition and engine speed, in SI units.
    symptoms : xarray.Dataset
        What they read with each fault, the healthy truck first, in SI units, and in `look` what to look at, or else in
        `sign` a sentence.
    sentences : sequence of str
        What opening costs, in words.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        In the largest letters with which all of it fits; where even small ones do not do, the last rows are left out.
    """
    foot = _footer()
    room = _HEIGHT - 2.0 * _MARGIN - _GAP - foot.height

    @functools.cache
    def parts_for(fit: _Fit) -> list[Block]:
        return _parts(choices, gauges, symptoms, sentences, units, fit)

    def fits(fit: _Fit) -> bool:
        page = stacked(parts_for(fit), _GAP)
        return page.height <= room and not page.tight

    parts = parts_for(_FITS[min(bisect.bisect_left(_FITS, True, key=fits), len(_FITS) - 1)])
    spare = (room - stacked(parts, 0.0).height) / (len(parts) - 1)
    figure = Figure(figsize=(_WIDTH / 72.0, _HEIGHT / 72.0), dpi=_DPI)
    draw(figure, stacked(parts, min(spare, _WIDEST_GAP)), _MARGIN, _MARGIN)
    draw(figure, foot, _MARGIN, _HEIGHT - _MARGIN - foot.height)
    return figure


def _footer() -> Block:
    lines = (Text(FOOTER), _DEFERENCE)
    return stacked([paragraph(line, _WIDTH - 2.0 * _MARGIN, _FOOT, align="center") for line in lines], 0.0)


def _parts(
    choices: xr.Dataset,
    gauges: xr.Dataset,
    symptoms: xr.Dataset,
    sentences: Sequence[str],
    units: System,
    fit: _Fit,
) -> list[Block]:
    """Return the parts of the card from the top."""
    width, size = _WIDTH - 2.0 * _MARGIN, fit.size
    lefts = [share * (width - _GUTTER) for share in _LEFT_SHARES]
    columns = [block for left in lefts for block in _columns(choices, gauges, sentences, units, fit, left)]
    parts = [
        title_block(choices, width, size),
        warning_block(width),
        min(columns, key=lambda block: (block.tight, block.height)),
        symptom_block(symptoms, units, width, size, fit.faults),
    ]
    return [part for part in parts if part.height]


def _columns(
    choices: xr.Dataset, gauges: xr.Dataset, sentences: Sequence[str], units: System, fit: _Fit, left: float
) -> Iterator[Block]:
    """Set two columns, the left one of some width: with the words about the cap on the right, then on the left."""
    size, right = fit.size, _WIDTH - 2.0 * _MARGIN - _GUTTER - left
    lefts = [
        cost_block(choices, sentences[: fit.sentences], units, left, size, fit.choices),
        gauge_block(gauges, units, left, size),
    ]
    rights = [
        opening_block(choices, units, right, size),
        cooling_block(choices, units, right, size),
        mark_block(choices, units, right, size),
    ]
    for at_left, at_right in (
        (lefts, [*rights, cap_block(choices, units, right, size)]),
        ([*lefts, cap_block(choices, units, left, size)], rights),
    ):
        yield beside([(0.0, stacked(at_left, _GAP)), (left + _GUTTER, stacked(at_right, _GAP))])


def save_pit_card(
    choices: xr.Dataset,
    gauges: xr.Dataset,
    symptoms: xr.Dataset,
    sentences: Sequence[str],
    folder: str | Path,
    units: System = "metric",
) -> None:
    """Write the card of a stop as pit_card.pdf and pit_card.png.

    Parameters
    ----------
    choices : xarray.Dataset
        Choices at a stop, in SI units.
    gauges : xarray.Dataset
        What the gauges of the healthy truck read, by condition and engine speed, in SI units.
    symptoms : xarray.Dataset
        What they read with each fault, the healthy truck first, in SI units, and in `look` what to look at, or else in
        `sign` a sentence.
    sentences : sequence of str
        What opening costs, in words.
    folder : str or Path
        Where; files that exist are replaced in one step each, and stay as they are if the writing fails.
    units : str
        "metric" or "us".

    Raises
    ------
    ResultsError
        If a file cannot be written.
    """
    figure = pit_card(choices, gauges, symptoms, sentences, units)
    FigureCanvasAgg(figure)
    with written_whole(Path(folder) / f"{PIT_CARD}.pdf") as part, part.open("wb") as file:
        figure.savefig(file, format="pdf", metadata={"CreationDate": None})
    with written_whole(Path(folder) / f"{PIT_CARD}.png") as part, part.open("wb") as file:
        figure.savefig(file, format="png", dpi=_DPI, pil_kwargs={"compress_level": 1})
