"""Write a page as a picture: every picture of the report goes this way."""

from __future__ import annotations

from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from ullage.results.store import written_whole


def save_picture(page: Figure, path: str | Path) -> None:
    """Write a page as PNG at its own resolution.

    Parameters
    ----------
    page : matplotlib.figure.Figure
        The page.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    FigureCanvasAgg(page)
    with written_whole(path) as part, part.open("wb") as file:
        page.savefig(file, format="png", dpi=page.dpi, pil_kwargs={"compress_level": 1})
