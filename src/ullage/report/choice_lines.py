"""One line a choice, named at its right end: lines that lie on each other get one name for all of them."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from ullage.report.labels import LINE, PLAIN, spread
from ullage.report.traces import Floats, extremes_by_column

# of a panel's width: where a leader ends, where its sample of the line ends, where the name begins
_BRACE, _SAMPLE, _NAME = 1.04, 1.15, 1.17
_PAPER = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
_TOUCH = 0.025  # [in] ends closer than this lie on each other


class ChoiceLine(NamedTuple):
    """A choice as drawn: time [s], values in the displayed unit, and when the cap came off and on [s, NaN if never]."""

    name: str
    note: str
    time: Floats
    values: Floats
    style: dict[str, Any]
    marks: list[float]
    failed: bool

    @property
    def seen(self) -> bool:
        """Whether there is anything to draw."""
        return bool(np.isfinite(self.values).any())


class _End(NamedTuple):
    line: ChoiceLine
    time: float
    value: float


def drawn(axes: Axes, lines: list[ChoiceLine]) -> list[_End]:
    """Draw the lines, the wide ones below, with their marks; return where each ends in the picture."""
    ends, last = [], axes.get_xlim()[1]
    for line in lines:
        rows = np.isfinite(line.values) & (line.time <= last)
        if not rows.any():
            continue
        over = 2.0 + 0.1 * (3.0 - line.style["linewidth"])
        shown = line.time <= last
        time, values = extremes_by_column(line.time[shown], line.values[shown])
        axes.plot(time, values, label=line.name, gid=line.name, zorder=over, dash_capstyle="butt", **line.style)
        end = int(np.flatnonzero(rows)[-1])
        ends.append(_End(line, float(line.time[end]), float(line.values[end])))
        if line.failed and line.time[end] < last:
            axes.plot(line.time[end], line.values[end], "x", color="black", markersize=7.0, zorder=4.0, label="_failed")
        for mark, face in zip(line.marks, ("white", "black"), strict=True):
            _mark(axes, line, mark, face)
    if not ends:
        middle: dict[str, Any] = {
            "transform": axes.transAxes,
            "ha": "center",
            "va": "center",
            "fontproperties": PLAIN,
            "bbox": _PAPER,
        }
        axes.text(0.5, 0.5, "nothing to show: the pump stands", **middle)
    return ends


def _mark(axes: Axes, line: ChoiceLine, time: float, face: str) -> None:
    """Put a dot on a line where it stands as the cap is moved, before the pressure jumps."""
    rows = np.flatnonzero(line.time <= time)
    row = int(np.searchsorted(line.time, line.time[rows[-1]])) if len(rows) else 0
    if 0.0 <= time <= axes.get_xlim()[1] and len(rows) and np.isfinite(line.values[row]):
        dot: dict[str, Any] = {
            "marker": "o",
            "markersize": 5.0,
            "markerfacecolor": face,
            "markeredgecolor": "black",
            "zorder": 5.0,
        }
        axes.plot([time], [line.values[row]], linestyle="none", label="_cap", clip_on=False, **dot)


def named(axes: Axes, ends: list[_End]) -> None:
    """Write the names of the lines beside their ends, moved apart, each with a sample of its line."""
    groups = _groups(axes, ends)
    texts = [(place, number) for number, (place, group) in enumerate(groups) for _ in _rows(group)]
    low, high = axes.get_ylim()
    height = axes.get_window_extent().height / axes.figure.dpi
    line = LINE / height * (high - low)
    wished = np.array([place for place, _ in texts])
    # the first row of a group stands highest, and `spread` puts equals in the order given
    places = -spread(-wished, line, -high + 0.25 * line, -low - 0.25 * line)
    across = axes.get_yaxis_transform()
    for number, (_, group) in enumerate(groups):
        mine = [place for place, (_, owner) in zip(places, texts, strict=True) if owner == number]
        centre = 0.5 * (mine[0] + mine[-1]) if len(group) > 1 else mine[0]
        first, last = axes.get_xlim()
        start = (min(end.time for end in group) - first) / (last - first)
        grey: dict[str, Any] = {
            "color": "0.45",
            "linewidth": 0.7,
            "transform": across,
            "clip_on": False,
            "label": "_leader",
        }
        axes.add_artist(Line2D([start, max(start, 1.0), _BRACE], [group[0].value] * 2 + [centre], **grey))
        if len(group) > 1:
            axes.add_artist(Line2D([_BRACE, _BRACE], [mine[0] + 0.3 * line, mine[-1] - 0.3 * line], **grey))
        for place, (text, style) in zip(mine, _rows(group), strict=True):
            font: dict[str, Any] = {"color": "black" if style else "0.35", "fontproperties": PLAIN, "parse_math": False}
            axes.text(_NAME, place, text, transform=across, va="center_baseline", **font)
            if style:
                sample = Line2D([_BRACE + 0.01, _SAMPLE], [place, place], transform=across, clip_on=False)
                sample.set(label="_sample", dash_capstyle="butt", **style)
                axes.add_artist(sample)


def _groups(axes: Axes, ends: list[_End]) -> list[tuple[float, list[_End]]]:
    """Return the ends from the top, those that lie on each other together, in the order of the choices."""
    low, high = axes.get_ylim()
    touch = _TOUCH * axes.figure.dpi / axes.get_window_extent().height * (high - low)
    groups: list[list[_End]] = []
    for end in sorted(ends, key=lambda end: -end.value):
        if groups and groups[-1][0].value - end.value <= touch:
            groups[-1].append(end)
        else:
            groups.append([end])
    order = {id(end): place for place, end in enumerate(ends)}
    return [(group[0].value, sorted(group, key=lambda end: order[id(end)])) for group in groups]


def _rows(group: list[_End]) -> list[tuple[str, dict[str, Any]]]:
    """Return the rows of a group: the names, joined by commas, each with its style, and the notes without."""
    rows: list[tuple[str, dict[str, Any]]] = []
    for end in group:
        comma = "" if end is group[-1] else ","
        rows.append((f"{end.line.name}{comma}", end.line.style))
        rows += [(end.line.note, {})] if end.line.note else []
    return rows
