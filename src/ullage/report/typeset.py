"""Text set into blocks of a known size, all lengths in points: measured first, drawn once it is known to fit."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from matplotlib.figure import Figure
from matplotlib.font_manager import get_font
from matplotlib.ft2font import LoadFlags
from matplotlib.patches import Rectangle

from ullage.report.labels import BOLD, PLAIN

LEADING = 1.19  # of a line, in letter sizes
_ASCENT = 0.93
_FINE = 100.0  # [pt] letters that are measured


class Words(NamedTuple):
    """One run of letters: left edge and baseline, from the block's left and downward from its top."""

    x: float
    y: float
    text: str
    bold: bool
    size: float
    color: str


class Shade(NamedTuple):
    """A filled rectangle: left edge, top, width, height and colour."""

    x: float
    y: float
    width: float
    height: float
    color: str


class Block(NamedTuple):
    """A piece of a page; it is `tight` if a table in it is too narrow for its cells."""

    words: tuple[Words, ...] = ()
    shades: tuple[Shade, ...] = ()
    height: float = 0.0
    tight: bool = False


class Text(NamedTuple):
    """A text, and the bold words that lead it."""

    lead: str
    body: str = ""


def width_of(text: str, bold: bool, size: float) -> float:
    """Return how wide a text is set on one line."""
    return size * _share(text, bold)


@functools.lru_cache(maxsize=8192)
def _share(text: str, bold: bool) -> float:
    """Return how wide a text is, in letter sizes."""
    font = get_font(str((BOLD if bold else PLAIN).get_file()))
    font.set_size(_FINE, 72)
    font.set_text(text, 0.0, flags=LoadFlags.NO_HINTING)
    return float(font.get_width_height()[0]) / 64.0 / _FINE


def paragraph(text: Text | str, width: float, size: float, *, align: str = "left", color: str = "black") -> Block:
    """Set a text in lines of at most some width; a word that is longer is broken.

    Parameters
    ----------
    text : Text or str
        What to set.
    width, size : float
        Width of the lines, and of the letters [pt].
    align : str
        "left", "right" or "center".
    color : str
        Colour of the letters.

    Returns
    -------
    Block
        As high as its lines.
    """
    text = text if isinstance(text, Text) else Text("", text)
    words = [(word, True) for word in _words(text.lead)] + [(word, False) for word in _words(text.body)]
    lines = list(_lines([part for word in words for part in _broken(*word, width, size)], width, size))
    found = []
    for row, line in enumerate(lines):
        room = width - sum(width_of(run, bold, size) for run, bold in line)
        x = {"left": 0.0, "right": room, "center": 0.5 * room}[align]
        for run, bold in line:
            letters = run.lstrip("\N{NO-BREAK SPACE}")
            place = x + width_of(run, bold, size) - width_of(letters, bold, size)
            found.append(Words(place, (LEADING * row + _ASCENT) * size, letters, bold, size, color))
            x += width_of(run, bold, size)
    return Block(tuple(found), (), LEADING * size * len(lines))


def _words(text: str) -> list[str]:
    """Return the words of a text; a no-break space does not part them."""
    return [word for word in text.split(" ") if word]


def _broken(word: str, bold: bool, width: float, size: float) -> Iterator[tuple[str, bool]]:
    while width_of(word, bold, size) > width and len(word) > 1:
        fits = max((count for count in range(1, len(word)) if width_of(word[:count], bold, size) <= width), default=1)
        yield word[:fits], bold
        word = word[fits:]
    yield word, bold


def _lines(words: list[tuple[str, bool]], width: float, size: float) -> Iterator[list[tuple[str, bool]]]:
    """Fill lines with words, each line as runs of one weight."""
    line: list[tuple[str, bool]] = []
    for word, bold in words:
        longer = _added(line, word, bold)
        if line and sum(width_of(run, weight, size) for run, weight in longer) > width:
            yield line
            longer = [(word, bold)]
        line = longer
    if line:
        yield line


def _added(line: list[tuple[str, bool]], word: str, bold: bool) -> list[tuple[str, bool]]:
    if not line:
        return [(word, bold)]
    run, weight = line[-1]
    if weight == bold:
        return [*line[:-1], (f"{run} {word}", bold)]
    return [*line, (f"\N{NO-BREAK SPACE}{word}", bold)]


def moved(block: Block, right: float, down: float) -> Block:
    """Return a block at another place; its height counts from its own top."""
    words = tuple(word._replace(x=word.x + right, y=word.y + down) for word in block.words)
    shades = tuple(shade._replace(x=shade.x + right, y=shade.y + down) for shade in block.shades)
    return block._replace(words=words, shades=shades)


def stacked(blocks: Sequence[Block], gap: float) -> Block:
    """Set blocks under each other; one without height takes no gap."""
    words: list[Words] = []
    shades: list[Shade] = []
    height = 0.0
    for block in blocks:
        if block.height:
            top = height + (gap if height else 0.0)
            placed = moved(block, 0.0, top)
            words += placed.words
            shades += placed.shades
            height = top + block.height
    return Block(tuple(words), tuple(shades), height, any(block.tight for block in blocks))


def beside(blocks: Sequence[tuple[float, Block]]) -> Block:
    """Set blocks side by side, each at its distance from the left."""
    placed = [moved(block, right, 0.0) for right, block in blocks]
    words = tuple(word for block in placed for word in block.words)
    shades = tuple(shade for block in placed for shade in block.shades)
    return Block(words, shades, max(block.height for block in placed), any(block.tight for block in placed))


def boxed(block: Block, width: float, pad: float, color: str) -> Block:
    """Lay a block on a filled rectangle."""
    inner = moved(block, pad, pad)
    height = block.height + 2.0 * pad
    return inner._replace(shades=(Shade(0.0, 0.0, width, height, color), *inner.shades), height=height)


def table(
    head: Sequence[str], rows: Sequence[Sequence[Text | str]], width: float, size: float, sentences: int | None = None
) -> Block:
    """Set a table: every other row shaded, the head bold over a rule.

    Parameters
    ----------
    head : sequence of str
        Names of the columns.
    rows : sequence
        Cells.
    width : float
        Of the table [pt]. What the columns do not need is shared by them.
    size : float
        Of the letters [pt].
    sentences : int or None
        A column of sentences: they take lines as they need them, and what width the other columns leave. Beside it and
        the first, which stand to the left, columns stand to the right.

    Returns
    -------
    Block
        It is `tight` if the columns need more than the width.
    """
    gutter, pad = 0.7 * size, 0.1 * size
    needed = [_needed(name, [row[place] for row in rows], size, place == sentences) for place, name in enumerate(head)]
    spare = width - sum(needed) - gutter * len(head)
    if sentences is not None and spare > 0.0:
        needed[sentences] += spare
    else:
        needed = [need + spare / len(head) for need in needed]
    places = [sum(needed[:column]) + gutter * (column + 0.5) for column in range(len(head))]
    aligns = ["left" if place in (0, sentences) else "right" for place in range(len(head))]
    columns = list(zip(places, needed, aligns, strict=True))
    blocks = [
        _row([Text(name) for name in head], columns, size, bottom=True),
        Block((), (Shade(0.0, 0.0, width, 0.8, "black"),), 0.8),
    ]
    for place, cells in enumerate(rows):
        row = moved(_row(cells, columns, size), 0.0, pad)
        high = row.height + 2.0 * pad
        blocks.append(
            row._replace(shades=(Shade(0.0, 0.0, width, high, "white" if place % 2 else "0.91"),), height=high)
        )
    return stacked(blocks, 0.0)._replace(tight=spare < 0.0)


def _needed(name: str, cells: Sequence[Text | str], size: float, sentences: bool) -> float:
    """Return how wide a column must be: each cell on one line, the words of its head each on one."""
    words = [(word, True) for word in _words(name)]
    for cell in cells:
        text = cell if isinstance(cell, Text) else Text("", cell)
        runs = [(text.lead, True), (text.body, False)]
        words += [(word, bold) for run, bold in runs for word in (_words(run) if sentences else [run])]
    # a hair, so that rounding breaks no cell
    return max((width_of(word, bold, size) for word, bold in words if word), default=0.0) + 0.05


def _row(
    cells: Sequence[Text | str], columns: Sequence[tuple[float, float, str]], size: float, bottom: bool = False
) -> Block:
    blocks = [
        paragraph(cell, max(width, size), size, align=align)
        for cell, (_, width, align) in zip(cells, columns, strict=True)
    ]
    height = max(block.height for block in blocks)
    downs = [height - block.height if bottom else 0.0 for block in blocks]
    placed = [moved(block, 0.0, down) for block, down in zip(blocks, downs, strict=True)]
    return beside(list(zip([place for place, _, _ in columns], placed, strict=True)))._replace(height=height)


def draw(figure: Figure, block: Block, left: float, top: float) -> None:
    """Put a block on a page, at distances from its left and upper edge."""
    width, height = 72.0 * figure.get_figwidth(), 72.0 * figure.get_figheight()
    for shade in block.shades:
        corner = ((left + shade.x) / width, 1.0 - (top + shade.y + shade.height) / height)
        size = (shade.width / width, shade.height / height)
        figure.add_artist(Rectangle(corner, *size, facecolor=shade.color, edgecolor="none", zorder=0.5))
    for words in block.words:
        font = (BOLD if words.bold else PLAIN).copy()
        font.set_size(words.size)
        place = ((left + words.x) / width, 1.0 - (top + words.y) / height)
        figure.text(*place, words.text, va="baseline", color=words.color, fontproperties=font, parse_math=False)
