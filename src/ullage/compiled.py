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

Function = TypeVar("Function", bound=Callable[..., object])

_KEPT_FOLDERS = 4


def compiled(function: Function) -> Function:
    """Compile a law or kernel for numbers only: no exceptions on division, no interpreter lock.

    Parameters
    ----------
    function : function
        A function on numbers, records and arrays. One whose name begins with an underscore can only be called by
        compiled code: it gets no door to Python, which saves time when it is compiled.

    Returns
    -------
    function
        The compiled function, kept on disk between processes unless `ULLAGE_CACHE=off`. A closure is compiled into
        whatever calls it and not kept: its cache could not tell one closure from another.
    """
    return _compiled(function, inline=False)


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
    return _compiled(function, inline=True)


def _compiled(function: Function, inline: bool) -> Function:
    kept = function.__closure__ is None and os.environ.get("ULLAGE_CACHE", "").lower() != "off"
    settings: Any = numba.config
    before = settings.CACHE_DIR
    settings.CACHE_DIR = str(_cache_folder()) if kept else before
    try:
        private = function.__name__.startswith("_")
        options: Any = {"error_model": "numpy", "nogil": True, "cache": kept}
        options |= {"no_cfunc_wrapper": True, "no_cpython_wrapper": private, "forceinline": inline}
        return cast("Function", numba.njit(**options)(function))
    finally:
        settings.CACHE_DIR = before


def _source_hash() -> str:
    package = Path(__file__).parent
    digest = hashlib.sha256(f"{numba.__version__} {sys.version}".encode())
    sources = [package / "compiled.py", package / "errors.py"]
    sources += [path for part in ("physics", "numerics", "kernel") for path in sorted((package / part).glob("*.py"))]
    for path in sources:
        digest.update(path.name.encode())
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
