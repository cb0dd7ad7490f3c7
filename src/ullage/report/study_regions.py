"""Regions of a map: hatched cells with an outline, and names that stand in them or beside them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from ullage.report.labels import LETTER, LINE, PLAIN
from ullage.report.traces import Floats

Flags = NDArray[np.bool_]


class Style(NamedTuple):
    """How a region is drawn: told apart by its hatch, also without colour."""

    hatch: str
    color: str


STYLES = {
    "too hot": Style("\\\\\\", "#b34700"),
    "cap lifts": Style("///", "#005a8f"),
    "tank full": Style("---", "#00664b"),
    "below rating": Style("|||", "#8a3a74"),
    "near vacuum": Style("++", "#4d4d9a"),
    "pump starves": Style("...", "#111111"),
    "much gas": Style("**", "#6b4a1f"),
    "over a rating": Style("ooo", "#7a5c00"),
    "not finished": Style("xxxx", "#333333"),
}
_HATCH_WIDTH = 0.7
_OUTLINE = 1.5


def edges(values: Floats) -> Floats:
    """Return the edges of the cells about values in order: half-way between neighbours."""
    if len(values) == 1:
        return np.array([values[0] - 0.5, values[0] + 0.5])
    middle = 0.5 * (values[1:] + values[:-1])
    return np.concatenate([[2.0 * values[0] - middle[0]], middle, [2.0 * values[-1] - middle[-1]]])


def draw_region(axes: Axes, across: Floats, up: Floats, cells: Flags, name: str) -> None:
    """Hatch the cells of a region, and draw its outline half-way between members.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where.
    across, up : array
        Edges of the cells.
    cells : array of shape (up, across)
        Which cells the region has.
    name : str
        One of `STYLES`.
    """
    style = STYLES[name]
    boxes = [
        Rectangle((across[column], up[row]), across[column + 1] - across[column], up[row + 1] - up[row])
        for row, column in np.argwhere(cells)
    ]
    shape = Path.make_compound_path(*(box.get_transform().transform_path(box.get_path()) for box in boxes))
    patch = PathPatch(shape, facecolor="none", edgecolor=style.color, hatch=style.hatch, linewidth=0.0, gid=name)
    patch.set_hatch_linewidth(_HATCH_WIDTH)
    axes.add_patch(patch)
    axes.add_collection(LineCollection(outline(across, up, cells), colors=style.color, linewidths=_OUTLINE))


def outline(across: Floats, up: Floats, cells: Flags) -> list[list[tuple[float, float]]]:
    """Return the segments between cells of a region and cells that are not in it; none along the edge of the map."""
    segments = []
    for row, column in np.argwhere(cells[:, 1:] != cells[:, :-1]):
        segments.append([(across[column + 1], up[row]), (across[column + 1], up[row + 1])])
    for row, column in np.argwhere(cells[1:] != cells[:-1]):
        segments.append([(across[column], up[row + 1]), (across[column + 1], up[row + 1])])
    return segments


class Box(NamedTuple):
    """Where something is written, as shares of the axes."""

    left: float
    right: float
    bottom: float
    top: float

    def meets(self, others: Sequence[Box]) -> bool:
        """Tell whether it covers part of another."""
        return any(
            self.right > other.left and self.left < other.right and self.top > other.bottom and self.bottom < other.top
            for other in others
        )


def box_about(axes: Axes, x: float, y: float, text: str) -> Box:
    """Return the box of a text about a point of the data."""
    place = axes.transAxes.inverted().transform(axes.transData.transform((x, y)))
    half = _half(axes, text)
    return Box(place[0] - half[0], place[0] + half[0], place[1] - half[1], place[1] + half[1])


def _half(axes: Axes, text: str) -> tuple[float, float]:
    width, height = (size / axes.figure.dpi for size in axes.get_window_extent().size)
    return 0.5 * (LETTER * len(text) + 0.1) / width, 0.5 * (LINE + 0.05) / height


def name_regions(axes: Axes, regions: dict[str, Flags], taken: list[Box]) -> None:
    """Write the name of each region where it is deepest and no other name stands, with a line to it from beside it.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        The axes of the cells.
    regions : dict
        Cells by name, each with one at least.
    taken : list of Box
        Boxes already written in; the new ones are added.
    """
    right, top = axes.get_xlim(), axes.get_ylim()
    for name in sorted(regions, key=lambda each: int(regions[each].sum())):
        half = _half(axes, name)
        place, inside = _place(regions, name, half, taken)
        taken.append(Box(place[0] - half[0], place[0] + half[0], place[1] - half[1], place[1] + half[1]))
        color = STYLES[name].color
        box = {"boxstyle": "square,pad=0.2", "facecolor": "white", "edgecolor": color, "linewidth": 1.0}
        x, y = (low + share * (high - low) for share, (low, high) in zip(place, (right, top), strict=True))
        if not _in_region(regions[name], place):
            ends = [(low + share * (high - low)) for share, (low, high) in zip(inside, (right, top), strict=True)]
            axes.plot([x, ends[0]], [y, ends[1]], color="white", linewidth=3.0, zorder=5.5)
            axes.plot([x, ends[0]], [y, ends[1]], color=color, linewidth=1.4, zorder=5.6)
        axes.text(x, y, name, ha="center", va="center", bbox=box, fontproperties=PLAIN, zorder=6)


def _in_region(cells: Flags, place: tuple[float, float]) -> bool:
    rows, columns = cells.shape
    return bool(cells[min(int(place[1] * rows), rows - 1), min(int(place[0] * columns), columns - 1)])


def _place(
    regions: dict[str, Flags], name: str, half: tuple[float, float], taken: list[Box]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where a name stands, and the point of its region that it means, as shares of the axes."""
    cells = regions[name]
    rows, columns = cells.shape
    others = np.sum([each for other, each in regions.items() if other != name], axis=0, dtype=np.float64)
    depth = distance_transform_edt(np.pad(cells, 1))[1:-1, 1:-1]
    off = np.hypot(*(np.indices(cells.shape) - np.argwhere(cells).mean(axis=0)[:, None, None]))
    alone = depth - 0.5 * np.where(cells, others, np.inf) - off / (rows + columns)
    deepest = np.unravel_index(int(np.argmax(alone)), cells.shape)
    inside = (float(deepest[1]) + 0.5) / columns, (float(deepest[0]) + 0.5) / rows
    x, y = np.meshgrid((np.arange(60) + 0.5) / 60.0, (np.arange(60) + 0.5) / 60.0)
    away = np.hypot(x - inside[0], y - inside[1])
    away[(x < half[0]) | (x > 1.0 - half[0]) | (y < half[1]) | (y > 1.0 - half[1])] += 10.0
    for box in taken:
        covers = (x + half[0] > box.left) & (x - half[0] < box.right)
        away[covers & (y + half[1] > box.bottom) & (y - half[1] < box.top)] += 5.0
    best = int(away.argmin())
    return (float(x.flat[best]), float(y.flat[best])), inside
