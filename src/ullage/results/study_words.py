"""What a study found, on one screen: done and failed, what a builder asks for, what is free, what moves what."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.results.display import System, gauge_text, shown_text
from ullage.results.screen import wrapped
from ullage.results.study_axes import (
    done,
    figure_values,
    hottest_oil,
    is_sample,
    key_words,
    member_text,
)
from ullage.results.study_forbidden import forbidden, free
from ullage.results.study_grid import GridAxis, grid_axes, laid_out, largest_block
from ullage.results.study_table import MOST_LINES, study_table
from ullage.results.variables import SUMMARY_FIGURES
from ullage.results.verdict import WORRYING_OIL, duration_text

ASKED = (
    "peak_oil_temperature",
    "lowest_feed_gauge_pressure",
    "highest_oil_level",
    "cavitation_exposure",
    "relief_openings",
    "highest_headspace_gauge_pressure",
)
_WORDS = {
    "peak_oil_temperature": "hottest oil",
    "lowest_feed_gauge_pressure": "lowest feed",
    "lowest_rating_margin": "least over the pump's need",
    "highest_oil_level": "fullest tank",
    "cavitation_exposure": "time with gas at the pump",
    "relief_openings": "cap lifts",
    "highest_headspace_gauge_pressure": "highest pressure in the air space",
}
# own choice: shares of the spread that are worth a line, that unexplained make a ranking rough or none, and that two
# looks may differ by
WORTH_A_LINE, ROUGH, UNTOLD, APART = 0.05, 0.2, 0.5, 0.1


def study_text(data: xr.Dataset, units: System) -> str:
    """Write what a study found in a builder's words.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study in SI units.
    units : str
        "metric" or "us".

    Returns
    -------
    str
        One screen: members done and failed; of each figure that a builder asks for the lowest, the middle and the
        highest with their members, or the 5, 50 and 95 % of uncertain inputs; what is forbidden and how often; of a
        grid the largest block that is free of it. Never a permission.
    """
    finished = done(data)
    lines = [str(data.attrs["title"] or "untitled study"), *_counted(data, finished)]
    if not finished.any():
        return "\n".join(lines)
    turning = data.time_turning.values[finished]
    lines += wrapped(f"races in which the pump turns {_span_text(float(turning.min()), float(turning.max()))}")
    equal = is_sample(data)
    lines += ["of the races, 5 %, half and 95 % stay under:" if equal else "lowest, middle and highest of the races:"]
    for figure in ASKED:
        lines += _range_lines(data, figure, units, equal)
    if len(data.member) <= MOST_LINES and not equal:
        lines += study_table(data, units)
    lines += list(_forbidden_lines(data, units))
    lines += wrapped("Gas numbers are good to a factor of a few: read set-ups against each other.")
    lines += wrapped("Estimates of races that were computed, and no permission: what was not varied may be wrong too.")
    return "\n".join(lines)


def _counted(data: xr.Dataset, finished: NDArray[np.bool_]) -> Iterator[str]:
    failed = int((~finished).sum())
    yield f"{int(finished.sum())} races done, {failed} not finished"
    if failed:
        sentences = data.sentence.values if "sentence" in data else data.status.values
        sentence, count = Counter(str(each) for each in sentences[~finished]).most_common(1)[0]
        most = f"all {failed}" if count == failed else f"{count} of these"
        yield from wrapped(f"{most}: {sentence}")


def _span_text(least: float, most: float) -> str:
    least_text, most_text = duration_text(least), duration_text(most)
    return most_text if least_text == most_text else f"{least_text} to {most_text}"


def figure_words(figure: str) -> str:
    """Return what a builder calls a summary figure."""
    return _WORDS.get(figure, SUMMARY_FIGURES[figure].long_name.split(",")[0])


def figure_text(value: float, figure: str, units: System) -> str:
    """Write a summary figure in the unit in which a builder reads it."""
    variable = SUMMARY_FIGURES[figure]
    if variable.pressure == "gauge":
        return gauge_text(value, units)
    if variable.units == "s":
        return duration_text(value)
    if figure == "relief_openings":
        return f"{value:.0f}"
    if variable.units == "1":
        return f"{100.0 * value:.3g} %"
    return shown_text(value, variable.units, units)


def _range_lines(data: xr.Dataset, figure: str, units: System, equal: bool) -> Iterator[str]:
    values = np.where(done(data), figure_values(data, figure), np.nan)
    known = np.flatnonzero(np.isfinite(values))
    if not len(known):
        return
    if values[known].min() == values[known].max():
        yield f"  {figure_words(figure)}: {figure_text(float(values[known[0]]), figure, units)} in all"
        return
    if equal:
        shown = [figure_text(float(each), figure, units) for each in np.percentile(values[known], [5.0, 50.0, 95.0])]
        yield from _indented(f"{figure_words(figure)}: {', '.join(shown)}", 2)
        return
    order = known[np.argsort(values[known], kind="stable")]
    places = [int(order[0]), int(order[(len(order) - 1) // 2]), int(order[-1])]
    shown = [figure_text(float(values[place]), figure, units) for place in places]
    yield from _indented(f"{figure_words(figure)}: {', '.join(shown)}", 2)
    for word, place in (("lowest", places[0]), ("highest", places[-1])):
        ties = int((values == values[place]).sum())
        where = f"in {ties} races" if ties > 1 else member_text(data, place, units)
        yield from _indented(f"{word} {where}", 4)


def _indented(text: str, indent: int) -> Iterator[str]:
    return (f"{' ' * indent}{line}" for line in wrapped(text))


def _forbidden_lines(data: xr.Dataset, units: System) -> Iterator[str]:
    found = forbidden(data, units)
    all_races = len(data.member)
    for each in found:
        if each.members.any():
            yield from wrapped(f"{int(each.members.sum())} of {all_races} {each.name}: {each.number}")
    worried = int((hottest_oil(data) >= WORRYING_OIL).sum())
    if worried:
        yield f"{worried} of {all_races} with oil at {shown_text(WORRYING_OIL, 'K', units)} or more, which worries"
    left = free(data, units)
    names = ", ".join(each.name for each in found)
    if not left.any():
        yield from wrapped(f"No member is free of all of these: {names}.")
        return
    yield from wrapped(f"{int(left.sum())} of {len(left)} are free of all of these: {names}.")
    axes = [axis for axis in grid_axes(data, units) if len(axis.values) > 1]
    if len(axes) >= 2:
        yield from wrapped(_block_sentence(axes, left))


def _block_sentence(axes: list[GridAxis], left: NDArray[np.bool_]) -> str:
    """Say which block of the two largest axes is free whatever the others are."""
    across, up = axes[:2]
    others = f", whatever the {', '.join(axis.name for axis in axes[2:])}" if axes[2:] else ""
    taken = laid_out(across, up, ~left, np.logical_or)
    block = largest_block(~taken)
    if block is None:
        return f"No {across.name} with any {up.name} is free of them{others}."
    rows, columns = block
    size = (rows.stop - rows.start) * (columns.stop - columns.start)
    spans = f"{_span(across, columns)} with {_span(up, rows)}"
    return f"The largest block of neighbours that are free, {size} of {taken.size}{others}: {spans}."


def _span(axis: GridAxis, places: slice) -> str:
    first, last = axis.text(places.start), axis.text(places.stop - 1)
    if places.stop - places.start == 1:
        return f"{axis.name} {first}"
    if axis.rows:
        return f"{axis.name} {' or '.join(axis.rows[places])}"
    return f"{axis.name} {first} to {last}"


def effect_lines(effects: xr.Dataset) -> list[str]:
    """Rank the inputs of a study in words, by what they do to one figure.

    Parameters
    ----------
    effects : xarray.Dataset
        Main and total effects over `input`, as `ullage.study.effects.effects` returns them.

    Returns
    -------
    list of str
        Lines of a screen: each input worth a line with the ends of its intervals, what is left to the others, and
        how far the ranking can be trusted.
    """
    if effects.attrs["sentence"]:
        return wrapped(f"{effects.attrs['sentence']}.")
    name, unexplained = figure_words(str(effects.attrs["figure"])), float(effects.attrs["unexplained"])
    if unexplained > UNTOLD:
        text = f"What moves the {name} cannot be told: {_percent(unexplained)} of its spread is explained by no input."
        return wrapped(f"{text} It hangs on few races: run more members, or read another figure.")
    ranked = effects.isel(input=np.argsort(-effects.total_effect.values, kind="stable"))
    strong = ranked.total_effect.values >= WORTH_A_LINE
    lines = wrapped(f"Of the spread of the {name} over {effects.attrs['members']} races:")
    for place in np.flatnonzero(strong):
        one = ranked.isel(input=int(place))
        alone = _share(one, "main_effect")
        together = _share(one, "total_effect")
        text = f"{alone} comes from {key_words(str(one.input.item()))} alone, {together} with what it does to others"
        lines += _indented(text, 2)
    weak = ranked.total_effect_high.values[~strong]
    if len(weak):
        lines += wrapped(f"The other {len(weak)} move it little, at most {_percent(float(weak.max()))} each.")
    return lines + _trust(effects)


def _trust(effects: xr.Dataset) -> list[str]:
    unexplained = float(effects.attrs["unexplained"])
    lines = wrapped(f"{_percent(unexplained)} is explained by none of them; the second brackets allow for it.")
    if unexplained > ROUGH:
        lines += wrapped("That is much: take the ranking as rough, or run more members.")
    apart = np.abs(effects.main_effect_by_classes.values - effects.main_effect.values)
    apart = np.where(effects.main_effect_by_classes.values > effects.main_effect_high.values + APART, apart, 0.0)
    if apart.max() > APART:
        worst = key_words(str(effects.input.values[int(apart.argmax())]))
        lines += wrapped(f"Two ways to reckon differ over {worst}: run more members before you trust it.")
    failed = int(effects.attrs["failed"])
    return lines + (wrapped(f"{failed} races that were not finished are left out.") if failed else [])


def _share(one: xr.Dataset, name: str) -> str:
    ends = f"{100.0 * one[f'{name}_low'].item():.0f} to {_percent(one[f'{name}_high'].item())}"
    return f"{_percent(one[name].item())} ({ends})"


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %" if share >= 0.095 else f"{100.0 * share:.1g} %"
