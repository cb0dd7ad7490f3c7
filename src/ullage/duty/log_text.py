"""The bytes of a log as UTF-8 text: what is no file, too large or no text is refused."""

from __future__ import annotations

import codecs
import re
import stat
from pathlib import Path
from typing import NamedTuple

from ullage.duty.log_faults import LogFaults

LARGEST_FILE = 600_000_000
_LINE_END = re.compile(rb"\r\n|\r|\n")
_CHUNK = 1 << 20
_UTF_16 = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}


class LogText(NamedTuple):
    """UTF-8 text without a byte-order mark, and what to say of how it was written."""

    data: bytes
    notes: tuple[str, ...] = ()


def read_bytes(path: Path, faults: LogFaults) -> bytes:
    """Return the bytes of a file that is no larger than `LARGEST_FILE`."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            faults.stop(0, "is not a file")
        with path.open("rb") as stream:
            data = stream.read(min(found.st_size, LARGEST_FILE) + 1)
    except OSError as error:
        faults.stop(0, f"cannot be read: {(error.strerror or str(error)).lower()}")
    except ValueError as error:
        faults.stop(0, f"cannot be read: {error}")
    if len(data) > LARGEST_FILE:
        faults.stop(0, f"is larger than {LARGEST_FILE // 1_000_000} MB: thin it out or cut it to one lap")
    return data


def text_of(data: bytes, faults: LogFaults) -> LogText:
    """Return bytes as text: UTF-8, UTF-16 with a byte-order mark, else Windows-1252."""
    if encoding := _UTF_16.get(data[:2]):
        try:
            return LogText(data[2:].decode(encoding).encode(), ("the file is UTF-16 text",))
        except UnicodeError:
            faults.stop(0, "begins like UTF-16 text, but is none: save it as UTF-8")
    if (place := data.find(b"\0")) >= 0:
        faults.stop(_line_at(data, place), "holds a NUL byte: this is no text file, or UTF-16 without its mark")
    data = data.removeprefix(codecs.BOM_UTF8)
    if _is_utf_8(data):
        return LogText(data)
    try:
        return LogText(data.decode("cp1252").encode(), ("the file is no UTF-8 text and was read as Windows-1252",))
    except UnicodeDecodeError as error:
        faults.stop(_line_at(data, error.start), "is neither UTF-8 nor Windows-1252 text")


def _line_at(data: bytes, place: int) -> int:
    return 1 + sum(1 for _ in _LINE_END.finditer(data, 0, place))


def _is_utf_8(data: bytes) -> bool:
    if data.isascii():
        return True
    decoder, view = codecs.getincrementaldecoder("utf-8")(), memoryview(data)
    try:
        for begin in range(0, len(data), _CHUNK):
            decoder.decode(view[begin : begin + _CHUNK])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True
