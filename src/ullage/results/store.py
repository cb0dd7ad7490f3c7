"""Write and read results: a file appears only when it is complete."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

import xarray as xr

from ullage.errors import UllageError
from ullage.results.dataset import FORMAT_VERSION
from ullage.results.variables import TEXT_WIDTH

RUN_FILE = "run.nc"
SUMMARY_FILE = "summary.json"
SMALL_FILE = 20e6  # bytes up to which packing costs more time than it saves space


class ResultsError(UllageError):
    """A result file that cannot be written or read."""


def save_results(data: xr.Dataset, path: str | Path) -> None:
    """Write a Dataset as netCDF-4 (HDF5).

    Parameters
    ----------
    data : xarray.Dataset
        Results.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    packed = data.nbytes > SMALL_FILE
    encoding = {name: _encoding(data[name], packed) for name in data.data_vars}
    with written_whole(path) as part:
        data.to_netcdf(part, engine="h5netcdf", encoding=encoding)


def save_text(text: str, path: str | Path) -> None:
    """Write text that ends with a line end.

    Parameters
    ----------
    text : str
        The text, such as figures as JSON.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    with written_whole(path) as part:
        part.write_text(text + "\n", encoding="utf-8")


@contextlib.contextmanager
def written_whole(path: str | Path) -> Iterator[Path]:
    """Give a file beside the one wanted to write to, and put it in its place once it is complete.

    Parameters
    ----------
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.

    Yields
    ------
    Path
        File to write.

    Raises
    ------
    ResultsError
        If it cannot be written.
    """
    target = Path(path)
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        part.touch()
        yield part
        with part.open("rb") as file:
            os.fsync(file.fileno())
        part.replace(target)
    except OSError as error:
        raise ResultsError(f"{target}: cannot be written: {error.strerror or error}") from None
    finally:
        if part.is_file():
            part.unlink()


def _encoding(variable: xr.DataArray, packed: bool) -> dict[str, object]:
    if variable.dtype.kind == "U":
        return {"dtype": "S1"}
    return {"zlib": True, "complevel": 1, "shuffle": True} if packed and variable.size > 1 else {}


def open_results(path: str | Path) -> xr.Dataset:
    """Read a result file into memory.

    Parameters
    ----------
    path : str or Path
        File written by `save_results`, or the folder of a run.

    Returns
    -------
    xarray.Dataset
        Results.

    Raises
    ------
    ResultsError
        If it is no result file, or was written by a newer version.
    """
    if Path(path).is_dir():
        path = Path(path) / RUN_FILE
    if not Path(path).is_file():
        raise ResultsError(f"{path}: cannot be read: there is no such file")
    try:
        with xr.open_dataset(path, engine="h5netcdf") as opened:
            data = opened.load()
    except (OSError, ValueError) as error:
        raise ResultsError(f"{path}: cannot be read: {error}") from None
    for name, width in TEXT_WIDTH.items():
        if name in data:
            data[name] = data[name].astype(width)
    written = data.attrs.get("format_version")
    if written is None:
        raise ResultsError(f"{path}: is not a result file of ullage")
    if int(written) > FORMAT_VERSION:
        raise ResultsError(f"{path}: has format {written}; this version reads up to {FORMAT_VERSION}: update ullage")
    return data
