"""Compilation of laws and kernels, and a disk cache that never serves stale code.

Numba's own cache does not notice an edit in a function that a cached function calls. The cache folder therefore
carries a hash of all compiled sources: an edit leads to another folder, old folders are pruned.
"""

from __future__ import annotations

import functools
import hashlib
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
from numba.extending import typeof_impl

Function = TypeVar("Function", bound=Callable[..., object])

_KEPT_FOLDERS = 4
_settings: Any = numba.config


class Law:
    """A law or kernel that other compiled code calls, and Python too.

    A door to Python is code that every compiled caller would carry along: the doors of all laws would take a fifth of
    a first run. So a function is compiled for compiled callers without one, and once more with one if Python calls it.
    """

    def __init__(self, function: Callable[..., object], inline: bool) -> None:
        kept = function.__closure__ is None and os.environ.get("ULLAGE_CACHE", "").lower() != "off"
        functools.update_wrapper(self, function)
        self.function = function
        self.inline = inline
        self.folder = _cache_folder() if kept else None

    @functools.cached_property
    def inner(self) -> Callable[..., object]:
        """What compiled code calls."""
        return self._dispatcher("inner", no_cpython_wrapper=True, forceinline=self.inline)

    @functools.cached_property
    def door(self) -> Callable[..., object]:
        """What Python calls."""
        return self._dispatcher("doors")

    def __call__(self, *arguments: object) -> object:
        """Call the function from Python."""
        return self.door(*arguments)

    def _dispatcher(self, kind: str, **options: Any) -> Callable[..., object]:
        before = _settings.CACHE_DIR
        _settings.CACHE_DIR = str(self.folder / kind) if self.folder else before
        options |= {"error_model": "numpy", "nogil": True, "_nrt": False, "no_cfunc_wrapper": True}
        try:
            made = numba.njit(cache=self.folder is not None, **options)(self.function)
            return cast("Callable[..., object]", made)
        finally:
            _settings.CACHE_DIR = before


@typeof_impl.register(Law)
def _type_of(law: Law, _: object) -> Any:
    inner: Any = law.inner
    return inner._numba_type_


def compiled(function: Function) -> Function:
    """Compile a law or kernel for numbers only: no exceptions on division, no interpreter lock, no memory of its own.

    Parameters
    ----------
    function : function
        A function on numbers, records and arrays. One that would allocate does not compile: counting who holds an
        array would cost a twentieth of a first run.

    Returns
    -------
    function
        The compiled function, kept on disk between processes unless `ULLAGE_CACHE=off`. A closure is compiled into
        whatever calls it and not kept: its cache could not tell one closure from another.
    """
    return function if _settings.DISABLE_JIT else cast("Function", Law(function, inline=False))


def inlined(function: Function) -> Function:
    """Compile a kernel as `compiled` does, and into every function that calls it.

    Parameters
    ----------
    function : function
        A part of the balances that takes or returns so many numbers that handing them over costs more than the work.

    Returns
    -------
    function
        The compiled function.
    """
    return function if _settings.DISABLE_JIT else cast("Function", Law(function, inline=True))


def merged(function: Function) -> Function:
    """Write a part of a kernel into the one kernel that calls it, as if it stood there.

    Parameters
    ----------
    function : function
        A large part that is called in one place. On its own it would be optimised once more than is needed.

    Returns
    -------
    function
        The function, compiled with its caller.
    """
    return cast("Function", numba.njit(inline="always", error_model="numpy")(function))


def _source_hash() -> str:
    package = Path(__file__).parent
    digest = hashlib.sha256(f"{numba.__version__} {sys.version}".encode())
    sources = [package / "compiled.py", package / "errors.py"]
    sources += [path for part in ("physics", "numerics", "kernel") for path in sorted((package / part).glob("*.py"))]
    for path in sources:
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def package_hash() -> str:
    """Return a hash of all sources of the package: 16 hexadecimal digits."""
    package = Path(__file__).parent
    digest = hashlib.sha256()
    for path in sorted(package.rglob("*.py")):
        digest.update(path.relative_to(package).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _user_cache() -> Path:
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")


@functools.cache
def _cache_folder() -> Path:
    name = _source_hash()
    for root in (_user_cache() / "ullage", Path(tempfile.gettempdir()) / f"ullage-cache-{_user_name()}"):
        folder = root / name
        if _made(folder) and os.access(folder, os.W_OK) and _owned(folder):
            _prune(root, folder)
            return folder
    return Path(tempfile.mkdtemp(prefix="ullage-cache-"))


def _made(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        return False
    return True


def _owned(folder: Path) -> bool:
    """Compiled code is read back from here: a folder that another user made is not trusted."""
    return not hasattr(os, "getuid") or folder.stat().st_uid == os.getuid()


def _user_name() -> str:
    return str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")


def _prune(root: Path, keep: Path) -> None:
    folders = sorted((path for path in root.iterdir() if path.is_dir()), key=lambda path: path.stat().st_mtime)
    for old in [path for path in folders if path != keep][:-_KEPT_FOLDERS]:
        shutil.rmtree(old, ignore_errors=True)
