"""Write and read results: a file appears only when it is complete."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import socket
import threading
from collections.abc import Iterator
from pathlib import Path

import xarray as xr

from ullage.errors import UllageError
from ullage.results.variables import FORMAT_VERSION, TEXT_WIDTH

RUN_FILE = "run.nc"
SUMMARY_FILE = "summary.json"
STUDY_FILE = "study.nc"
LEDGER_FILE = "ledger.json"
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


def save_first(text: str, path: Path) -> None:
    """Write text that ends with a line end, unless the file is there: of many who write at once one is the first.

    Parameters
    ----------
    text : str
        The text.
    path : Path
        File; one that exists stays as it is.

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    part = _part_of(path)
    try:
        part.write_text(text + "\n", encoding="utf-8")
        os.link(part, path)
    except FileExistsError:
        return
    except OSError as error:
        if error.errno not in (errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS):
            raise ResultsError(f"{path}: cannot be written: {_reason(error)}") from None
        part.replace(path)  # a file system without links
    finally:
        part.unlink(missing_ok=True)


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
    part = _part_of(target)
    try:
        part.touch()
        yield part
        with part.open("rb") as file:
            os.fsync(file.fileno())
        part.replace(target)
    except OSError as error:
        raise ResultsError(f"{target}: cannot be written: {_reason(error)}") from None
    finally:
        if part.is_file():
            part.unlink()


def _part_of(target: Path) -> Path:
    """Return what a file is called while this thread of this process writes it."""
    writer = f"{socket.gethostname()}.{threading.get_native_id()}.{os.getpid()}"
    return target.with_name(f"{target.name}.{writer}.part")


def _reason(error: OSError) -> str:
    return os.strerror(error.errno) if error.errno else str(error)


def _encoding(variable: xr.DataArray, packed: bool) -> dict[str, object]:
    if variable.dtype.kind == "U":
        return {"dtype": "S1"}
    return {"zlib": True, "complevel": 1, "shuffle": True} if packed and variable.size > 1 else {}


def remove_left_parts(folder: Path) -> None:
    """Take away what killed processes of this machine left half written in a folder."""
    left = re.compile(rf".+\.{re.escape(socket.gethostname())}\.[0-9]{{1,9}}\.([0-9]{{1,9}})\.part")
    for part in folder.iterdir():
        match = left.fullmatch(part.name)
        if match and part.is_file() and not _runs(int(match[1])):
            part.unlink(missing_ok=True)


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def open_results(path: str | Path) -> xr.Dataset:
    """Read the results of a race or a study.

    Parameters
    ----------
    path : str or Path
        File written by `save_results`, or the folder of a run or of a study.

    Returns
    -------
    xarray.Dataset
        Results. They are in memory, but for a study of over 20 MB: of that what is asked for is read from the file,
        which stays open until `close`.

    Raises
    ------
    ResultsError
        If it is no result file, or was written by a newer version, or the study is not gathered yet.
    """
    file = _file_in(Path(path))
    if not file.is_file():
        raise ResultsError(f"{file}: cannot be read: there is no such file")
    try:
        data = xr.open_dataset(file, engine="h5netcdf", cache=False)
    except (OSError, ValueError, RuntimeError) as error:
        raise ResultsError(f"{file}: cannot be read: {error}") from None
    _refuse_foreign(data, file)
    if data.attrs.get("kind") == "study" and data.nbytes > SMALL_FILE:
        return data
    try:
        with data:
            data = data.load()
    except (OSError, ValueError, RuntimeError) as error:
        raise ResultsError(f"{file}: cannot be read: {error}") from None
    for name in data.variables:
        if data[name].dtype.kind in "OS":
            data[name] = data[name].astype(TEXT_WIDTH.get(str(name), "U"))
    return data


def _file_in(path: Path) -> Path:
    """Return the result file of a folder, or the path itself if it is none."""
    if not path.is_dir():
        return path
    if (path / STUDY_FILE).is_file():
        return path / STUDY_FILE
    if (path / LEDGER_FILE).is_file():
        text = "holds a study that is not gathered yet: go on with --resume, or --gather its shards"
        raise ResultsError(f"{path}: {text}")
    return path / RUN_FILE


def _refuse_foreign(data: xr.Dataset, file: Path) -> None:
    written = data.attrs.get("format_version")
    if written is not None and int(written) <= FORMAT_VERSION:
        return
    data.close()
    if written is None:
        raise ResultsError(f"{file}: is not a result file of ullage")
    raise ResultsError(f"{file}: has format {written}; this version reads up to {FORMAT_VERSION}: update ullage")
