"""Track points of a GPX file, read as a stream in bounded memory, every fault with its line and column.

The standard library's expat is used as it is: it tells of a document type before it reads what that declares, it says
where it stands, and nothing is kept of a file but the points. (Readers that build a tree need some fifteen times the
size of a file.)
"""

from __future__ import annotations

import hashlib
import math
import stat
from array import array
from collections.abc import Callable
from datetime import UTC, datetime
from io import BufferedReader
from pathlib import Path
from typing import NamedTuple, NoReturn, TypeVar
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

from ullage.duty.profile import Array
from ullage.errors import Fault, UllageError

LARGEST_FILE = 200_000_000
TOO_LARGE = f"is larger than {LARGEST_FILE // 1_000_000} MB: thin it out or cut it to one lap"
MOST_POINTS = 1_000_000
MOST_ELEMENTS = 12_000_000
MOST_FAULTS = 20
MOST_NAMES = 2_000  # of elements and attributes
DEEPEST = 50
LONGEST_TAG = 1_000_000
LONGEST_TEXT = 100
VERSIONS = {f"http://www.topografix.com/GPX/1/{minor}": f"1.{minor}" for minor in (0, 1)}
ENCODINGS = ("utf-8", "us-ascii", "iso-8859-1", "iso-8859-15", "windows-1252")
LOWEST, HIGHEST = -400.0, 5000.0  # what a scenario accepts as an elevation [m]
_CHUNK = 65_536

Found = TypeVar("Found")


class Points(NamedTuple):
    """Points in the order of a file: degrees, metres and POSIX seconds; what is absent is not a number.

    `piece` numbers the segments of tracks, `without_zone` counts times that do not name their zone.
    """

    latitude: Array
    longitude: Array
    elevation: Array
    time: Array
    piece: NDArray[np.int64]
    tracks: int
    without_zone: int
    digest: str


class TrackError(UllageError):
    """A file that is no usable track.

    Parameters
    ----------
    faults : list of Fault
        Everything that is wrong with it, each with file, line and column as far as they are known.
    """

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


def read_points(path: Path) -> Points:
    """Read the track points of a GPX file.

    Parameters
    ----------
    path : Path
        GPX 1.1 (or 1.0, whose track points are the same), at most 200 MB and a million points.

    Returns
    -------
    Points
        All points of all tracks, in the order of the file. Routes and waypoints are not read.

    Raises
    ------
    TrackError
        With the faults of the file. A document type is refused where it begins: nothing that it declares is read.

    References
    ----------
    .. [1] GPX 1.1 Schema Documentation, https://www.topografix.com/GPX/1/1/
    """
    return _used(path, lambda stream: _Reader(str(path)).read(stream))


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file that may be a track; a TrackError says why it cannot be one."""
    return _used(path, lambda stream: hashlib.file_digest(stream, "sha256").hexdigest())


def _used(path: Path, use: Callable[[BufferedReader], Found]) -> Found:
    """Return what is made of an open file; only plain files of a fair size are opened."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            reason = "is not a file"
        elif found.st_size > LARGEST_FILE:
            reason = TOO_LARGE
        else:
            with path.open("rb") as stream:
                return use(stream)
    except OSError as error:
        reason = f"cannot be read: {(error.strerror or str(error)).lower()}"
    except ValueError as error:
        reason = f"cannot be read: {error}"
    raise TrackError([Fault(str(path), None, "", reason)])


class _Reader:
    """What is known of a file so far."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._found: list[Fault] = []
        self._more = 0
        self._names: dict[str, str] = {}
        self._parser = expat.ParserCreate(None, " ", self._names)
        self._parser.XmlDeclHandler = self._declaration
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._data
        self._depth = self._point_depth = self._elements = 0
        self._wanted: dict[str, str] = {}
        self._text: list[str] | None = None
        self._columns = {name: array("d") for name in ("lat", "lon", "ele", "time")}
        self._pieces = array("q")
        self._tracks = self._piece = self._without_zone = 0

    def stop(self, text: str, line: int | None = None) -> NoReturn:
        """Add a fault after which the rest of the file means nothing, and raise them all."""
        more = [Fault(self._name, None, "", f"and {self._more} more")] if self._more else []
        raise TrackError([*self._found, Fault(self._name, line, "", text), *more])

    def read(self, stream: BufferedReader) -> Points:
        """Return all points."""
        digest, size = hashlib.sha256(), 0
        while chunk := stream.read(_CHUNK):
            if size == 0 and chunk[:2] in (b"\xff\xfe", b"\xfe\xff"):
                self.stop("is UTF-16 text: save it as UTF-8")
            if b"\0" in chunk:
                self.stop("holds a NUL byte: this is no UTF-8 text")
            digest.update(chunk)
            size += len(chunk)
            if size > LARGEST_FILE:
                self.stop(TOO_LARGE)
            self._parse(chunk)
            if size - self._parser.CurrentByteIndex > LONGEST_TAG:
                self._stop_here(f"holds a tag or a comment of more than {LONGEST_TAG} characters")
            if len(self._names) > MOST_NAMES:
                self._stop_here(f"has more than {MOST_NAMES} names of elements and attributes: this is no usual track")
        if size == 0:
            self.stop("is empty")
        self._parse(b"", last=True)
        return self._points(digest.hexdigest())

    def _parse(self, chunk: bytes, last: bool = False) -> None:
        try:
            self._parser.Parse(chunk, last)
        except expat.ExpatError as error:
            why = expat.ErrorString(error.code)
            self.stop(f"column {error.offset + 1}: is no XML that can be read: {why}", error.lineno)

    def _points(self, digest: str) -> Points:
        if self._found:
            last = self._found.pop()
            self.stop(last.text, last.line)
        latitude, longitude, elevation, time = (np.array(values) for values in self._columns.values())
        if len(latitude) < 2:
            self.stop("has fewer than two track points; routes and waypoints are not read")
        pieces = np.array(self._pieces, dtype=np.int64)
        return Points(latitude, longitude, elevation, time, pieces, self._tracks, self._without_zone, digest)

    def _here(self) -> tuple[int, str]:
        return self._parser.CurrentLineNumber, f"column {self._parser.CurrentColumnNumber + 1}: "

    def _stop_here(self, text: str) -> NoReturn:
        line, place = self._here()
        self.stop(place + text, line)

    def _add(self, text: str) -> None:
        line, place = self._here()
        if len(self._found) == MOST_FAULTS:
            self._more += 1
        else:
            self._found.append(Fault(self._name, line, "", place + text))

    def _declaration(self, _version: str, encoding: str | None, _standalone: int) -> None:
        if encoding is not None and encoding.lower() not in ENCODINGS:
            self._stop_here(f"names the encoding '{encoding[:40]}': save it as UTF-8")

    def _doctype(self, *_declared: object) -> NoReturn:
        self._stop_here("has a document type (<!DOCTYPE ...>), which is refused: a track needs none, take it out")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._elements += 1
        if self._elements > MOST_ELEMENTS:
            self._stop_here(f"has more than {MOST_ELEMENTS} elements: take fewer points, or cut it to one lap")
        self._depth += 1
        if self._depth == 1:
            self._root(name)
        elif self._depth > DEEPEST:
            self._stop_here(f"is nested more than {DEEPEST} deep")
        kind = self._wanted.get(name)
        if kind == "trkpt":
            self._begin_point(attributes)
        elif kind == "trk":
            self._tracks += 1
        elif kind == "trkseg":
            self._piece += 1
        elif kind and self._point_depth and self._depth == self._point_depth + 1:
            self._text = []

    def _root(self, name: str) -> None:
        namespace, _, local = name.rpartition(" ")
        if local != "gpx" or namespace not in VERSIONS:
            found = f"'{local[:40]}' of '{namespace[:60]}'" if namespace else f"'{local[:40]}' without a namespace"
            self._stop_here(f"is no GPX 1.1: it begins with {found}, and not with 'gpx' of '{[*VERSIONS][-1]}'")
        self._wanted = {f"{namespace} {kind}": kind for kind in ("trk", "trkseg", "trkpt", "ele", "time")}

    def _begin_point(self, attributes: dict[str, str]) -> None:
        if self._point_depth:
            self._stop_here("is a track point within a track point")
        if len(self._pieces) == MOST_POINTS:
            self._stop_here(f"has more than {MOST_POINTS} points: take fewer a second, or cut it to one lap")
        self._point_depth = self._depth
        for key, limit in (("lat", 90.0), ("lon", 180.0)):
            self._columns[key].append(self._degrees(attributes.get(key), key, limit))
        self._columns["ele"].append(math.nan)
        self._columns["time"].append(math.nan)
        self._pieces.append(self._piece)

    def _degrees(self, text: str | None, key: str, limit: float) -> float:
        if text is None:
            self._add(f"{key}: missing")
            return math.nan
        value = _number(text)
        if not abs(value) <= limit:
            self._add(f"{key}: '{text[:40]}' is no number from -{limit:g} to {limit:g} degrees")
        return value

    def _data(self, text: str) -> None:
        if self._text is not None:
            self._text.append(text)
            if max(len(text), len(self._text)) > LONGEST_TEXT:
                self._stop_here(f"elevation or time is longer than {LONGEST_TEXT} characters")

    def _end(self, name: str) -> None:
        if self._depth == self._point_depth:
            self._point_depth = 0
        elif self._text is not None and self._depth == self._point_depth + 1:
            text, self._text = "".join(self._text).strip(), None
            if self._wanted[name] == "ele":
                self._columns["ele"][-1] = self._elevation(text)
            else:
                self._columns["time"][-1] = self._time(text)
        self._depth -= 1

    def _elevation(self, text: str) -> float:
        value = _number(text)
        if not math.isfinite(value):
            self._add(f"ele: '{text[:40]}' is no number of metres")
        return value if LOWEST <= value <= HIGHEST else math.nan

    def _time(self, text: str) -> float:
        try:
            if text[10:11] != "T":
                raise ValueError(text)
            moment = datetime.fromisoformat(text)
        except ValueError:
            self._add(f"time: '{text[:40]}' is no time such as 2001-02-03T04:05:06Z")
            return math.nan
        if moment.tzinfo is None:
            self._without_zone += 1
            moment = moment.replace(tzinfo=UTC)
        return moment.timestamp()


def _number(text: str) -> float:
    """Return the number that a text holds, or what is not a number; digits of other scripts are none."""
    try:
        return float(text) if text.isascii() and "_" not in text else math.nan
    except ValueError:
        return math.nan
