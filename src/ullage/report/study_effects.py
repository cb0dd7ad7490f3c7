"""Which uncertain input moves a figure: bars of main and total effects with their intervals."""

from __future__ import annotations

import textwrap
from pathlib import Path

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.ticker import MaxNLocator

from ullage.errors import UllageError
from ullage.report.figures import FOOTER
from ullage.report.labels import BOLD, PLAIN, clipped
from ullage.report.picture import save_picture
from ullage.results.study_axes import key_words
from ullage.results.study_words import figure_words

EFFECTS_FIGURE = "effects.png"

_DPI = 240.0
_WIDTH, _LEFT, _PLOT = 4.5, 2.05, 2.2
_ROW = 0.42
_LETTERS = 60
_NAME_LETTERS = 25
_MAIN, _TOTAL = "#005a8f", "#bcd7ea"


def effects_figure(effects: xr.Dataset) -> Figure:
    """Compose the bars of the effects on one figure.

    Parameters
    ----------
    effects : xarray.Dataset
        Main and total effects over `input`, as `ullage.study.effects.effects` returns them.

    Returns
    -------
    matplotlib.figure.Figure
        Portrait, the input with the largest total effect at the top.

    Raises
    ------
    UllageError
        If there are no effects because the figure does not vary.
    """
    if effects.attrs["sentence"]:
        raise UllageError(str(effects.attrs["sentence"]))
    ranked = effects.isel(input=np.argsort(effects.total_effect.values))
    heads = _heads(effects)
    head, foot = 0.3 + 0.17 * len(heads), 0.66
    high = _ROW * len(ranked.input)
    height = head + high + foot
    page = Figure(figsize=(_WIDTH, height), dpi=_DPI)
    axes = page.add_axes((_LEFT / _WIDTH, foot / height, _PLOT / _WIDTH, high / height))
    _bars(axes, ranked)
    for row, (text, font) in enumerate(heads):
        page.text(0.04, 1.0 - (0.1 + 0.17 * row) / height, text, va="top", fontproperties=font, parse_math=False)
    page.text(0.5, 0.07 / height, FOOTER, ha="center", va="bottom", fontproperties=PLAIN)
    return page


def _bars(axes: Axes, ranked: xr.Dataset) -> None:
    rows = np.arange(len(ranked.input), dtype=np.float64)
    for name, shift, color, hatch in (("total", -0.19, _TOTAL, "////"), ("main", 0.19, _MAIN, "")):
        share = 100.0 * ranked[f"{name}_effect"].values
        axes.barh(rows + shift, share, 0.34, color=color, edgecolor=_MAIN, linewidth=0.6, hatch=hatch, gid=name)
        low, high = (100.0 * ranked[f"{name}_effect_{end}"].values for end in ("low", "high"))
        reach = np.maximum([share - low, high - share], 0.0)
        axes.errorbar(share, rows + shift, xerr=reach, fmt="none", ecolor="black", elinewidth=1.1, capsize=2.0)
    names = [clipped(key_words(str(key)), 2 * _NAME_LETTERS - 6, 15) for key in ranked.input.values]
    axes.set_yticks(rows, ["\n".join(textwrap.wrap(name, _NAME_LETTERS)) for name in names], fontproperties=PLAIN)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(-0.5, len(rows) - 0.5)
    axes.set_xlim(0.0, max(10.0, 105.0 * float(ranked.total_effect_high.max())))
    ticks = [tick for tick in MaxNLocator(5).tick_values(*axes.get_xlim()) if tick <= axes.get_xlim()[1]]
    axes.set_xticks(ticks, [f"{tick:.0f}" for tick in ticks], fontproperties=PLAIN)
    axes.set_xlabel("share of the spread, %", fontproperties=PLAIN, labelpad=2)
    axes.grid(axis="x", color="0.9", linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _heads(effects: xr.Dataset) -> list[tuple[str, FontProperties]]:
    lines = textwrap.wrap(f"What moves the {figure_words(str(effects.attrs['figure']))}", 46)
    members, unexplained = int(effects.attrs["members"]), 100.0 * float(effects.attrs["unexplained"])
    words = (
        f"{members} races. Upper bar: the input alone. Lower bar, hatched: with what it does together with others. "
        f"Lines: 95 % intervals. Explained by none: {unexplained:.2g} %."
    )
    return [(line, BOLD) for line in lines] + [(line, PLAIN) for line in textwrap.wrap(words, _LETTERS)]


def save_study_effects(effects: xr.Dataset, path: str | Path) -> None:
    """Write the bars of the effects on one figure as PNG, 1080 pixels wide.

    Parameters
    ----------
    effects : xarray.Dataset
        Main and total effects over `input`, as `ullage.study.effects.effects` returns them.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.

    Raises
    ------
    ResultsError
        If the file cannot be written.
    UllageError
        If there are no effects because the figure does not vary.
    """
    save_picture(effects_figure(effects), path)
