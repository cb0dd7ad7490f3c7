"""Words and numbers on a picture: where they go, so that none covers another, and in which letters."""

from __future__ import annotations

import math
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib.font_manager import FontProperties, get_font

from ullage.report.traces import Floats
from ullage.results.display import System, short, shown_value

SIZE = 9.0
LINE = 0.155
LETTER = 0.57 * SIZE / 72.0
NAME_COLUMN = 1.06
TIME_STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800)
TIME_TICKS = 6

_LONG = 900.0

_FOLDER = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
PLAIN = FontProperties(fname=str(_FOLDER / "DejaVuSans.ttf"), size=SIZE)
BOLD = FontProperties(fname=str(_FOLDER / "DejaVuSans-Bold.ttf"), size=10.0)
HUGE = FontProperties(fname=str(_FOLDER / "DejaVuSans-Bold.ttf"), size=17.0)


def drawable(text: str) -> str:
    """Return a text on one line, with a square for each character that the font does not have."""
    font = get_font(str(PLAIN.get_file()))
    return "".join(
        letter if font.get_char_index(ord(letter)) else "\N{WHITE SQUARE}" for letter in " ".join(text.split())
    )


def clipped(text: str, length: int, tail: int) -> str:
    """Return a text of at most so many characters: of a longer one the start, and so many characters of its end."""
    if len(text) <= length:
        return text
    return f"{text[: length - tail - 1].rstrip()}\N{HORIZONTAL ELLIPSIS}{text[len(text) - tail :].lstrip()}"


def spread(places: Floats, gap: float, low: float, high: float) -> Floats:
    """Move labels apart.

    Parameters
    ----------
    places : array
        Where the labels would like to be.
    gap : float
        Least distance of two; less if they do not fit.
    low, high : float
        Where the first and the last may be.

    Returns
    -------
    array
        Places in the order given, each order kept.
    """
    order = np.argsort(places, kind="stable")
    if len(order) < 2:
        return np.clip(places, low, high)
    gap = min(gap, (high - low) / (len(order) - 1))
    steps = gap * np.arange(len(order))
    upward = np.maximum.accumulate(np.maximum(places[order], low) - steps)
    moved = np.empty_like(places)
    moved[order] = np.minimum(upward, high - steps[-1]) + steps
    return moved


def rows_for(centres: Floats, widths: Floats, low: float, high: float, rows: int) -> tuple[Floats, list[int]]:
    """Place names in rows, so that none covers another.

    Parameters
    ----------
    centres, widths : array
        Where the names would like to be, in order, and how wide they are.
    low, high : float
        Where a row begins and ends.
    rows : int
        How many rows there are.

    Returns
    -------
    tuple
        Centres moved inside, and the row of each name; -1 for one that finds no room.
    """
    centres = np.clip(centres, low + 0.5 * widths, np.maximum(high - 0.5 * widths, low + 0.5 * widths))
    taken = [-math.inf] * rows
    found = []
    for centre, width in zip(centres, widths, strict=True):
        free = [row for row in range(rows) if taken[row] <= centre - 0.5 * width]
        found.append(free[0] if free else -1)
        if free:
            taken[free[0]] = centre + 0.5 * width
    return centres, found


def time_ticks(start: float, end: float) -> tuple[list[float], list[str], str]:
    """Return ticks for a race time in seconds, their texts, and what they are.

    Parameters
    ----------
    start, end : float
        What the axis shows [s].

    Returns
    -------
    tuple
        Ticks [s], texts, and "h:min" or "min:s".
    """
    step = next((step for step in TIME_STEPS if (end - start) / step <= TIME_TICKS), TIME_STEPS[-1])
    step *= max(1, math.ceil((end - start) / (step * TIME_TICKS)))
    ticks = [float(step * count) for count in range(math.ceil(start / step), math.floor(end / step) + 1)]
    base = 60 if end - start >= _LONG else 1
    texts = [f"{int(tick) // (60 * base)}:{int(tick) // base % 60:02d}" for tick in ticks]
    return ticks, texts, "h:min" if base == 60 else "min:s"


def short_duration(seconds: float) -> str:
    """Write a duration short: seconds, minutes or hours with two digits."""
    if seconds < 99.5:
        return f"{seconds:.0f} s"
    if seconds < 99.5 * 60.0:
        return f"{seconds / 60.0:.0f} min"
    return f"{seconds / 3600.0:.2g} h" if seconds < 99.5 * 3600.0 else f"{seconds / 3600.0:.0f} h"


def unit_sign(written: str) -> str:
    """Write a unit with a degree sign."""
    return written.replace("deg", "\N{DEGREE SIGN}")


def signed(number: str) -> str:
    """Write a number with a minus sign, not a hyphen."""
    return number.replace("-", "\N{MINUS SIGN}")


def number_text(value: float, si_units: str, units: System) -> str:
    """Write an SI value with three significant digits in the displayed unit."""
    number, unit = shown_value(value, si_units, units)
    return f"{signed(short(number))} {unit_sign(unit)}"
