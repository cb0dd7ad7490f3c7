import os
import time
from pathlib import Path

import numba
import numpy as np
import pytest

from ullage import compiled as module
from ullage.compiled import compiled

if_compiled = pytest.mark.skipif(numba.config.DISABLE_JIT, reason="plain Python: nothing is compiled")


@pytest.fixture
def root(tmp_path, monkeypatch):
    """Give a folder that stands in for the cache of the user."""
    monkeypatch.setattr(module, "_user_cache", lambda: tmp_path)
    module._cache_folder.cache_clear()
    yield tmp_path / "ullage"
    module._cache_folder.cache_clear()


def third(value):
    """Return one third of a value, by division."""
    return value / (3.0 - 0.0 * value)


@if_compiled
def test_compiled_law_gives_the_same_and_divides_without_an_exception():
    assert compiled(third)(2.0) == third(2.0)
    assert compiled(lambda a, b: a / b)(1.0, 0.0) == float("inf")


@if_compiled
def test_what_would_allocate_does_not_compile():
    with pytest.raises(numba.core.errors.NumbaError, match="NRT"):
        compiled(lambda count: np.zeros(count))(3)


@if_compiled
def test_a_compiled_function_is_kept_in_its_folder_and_restores_the_setting(root):
    before = numba.config.CACHE_DIR
    assert compiled(third)(2.0) == third(2.0)
    assert before == numba.config.CACHE_DIR
    (folder,) = root.iterdir()
    assert folder.name == module._source_hash()
    assert list(folder.rglob("*.nbi"))
    again = compiled(third)
    assert again(2.0) == third(2.0)
    assert list(again.door.stats.cache_hits.values()) == [1]


@if_compiled
def test_a_law_is_compiled_only_for_those_who_call_it():
    law = compiled(third)

    @compiled
    def twice(value):
        return law(law(value))

    assert twice(2.0) == third(third(2.0))
    assert len(law.inner.signatures) == 1
    assert not law.door.signatures  # Python has not called it
    assert not twice.inner.signatures  # compiled code has not called it
    assert law(2.0) == third(2.0)


def test_cache_can_be_switched_off(root, monkeypatch):
    monkeypatch.setenv("ULLAGE_CACHE", "Off")
    assert compiled(third)(2.0) == third(2.0)
    assert not root.exists()


def test_hash_follows_every_compiled_source(tmp_path, monkeypatch):
    package = Path(module.__file__).parent
    for path in [
        *package.glob("*.py"),
        *(file for part in ("physics", "numerics", "kernel") for file in package.glob(f"{part}/*.py")),
    ]:
        copy = tmp_path / path.relative_to(package)
        copy.parent.mkdir(exist_ok=True)
        copy.write_bytes(path.read_bytes())
    monkeypatch.setattr(module, "__file__", str(tmp_path / "compiled.py"))
    hashes = [module._source_hash()]
    for name in ("compiled.py", "errors.py", "physics/oil.py", "numerics/roots.py", "kernel/march.py"):
        (tmp_path / name).write_bytes((tmp_path / name).read_bytes() + b"\n")
        hashes.append(module._source_hash())
    (tmp_path / "kernel" / "new.py").write_text("")
    hashes.append(module._source_hash())
    (tmp_path / "cli.py").write_text("")  # not compiled
    assert module._source_hash() == hashes[-1]
    assert len(set(hashes)) == len(hashes)


def test_old_folders_are_pruned_and_the_newest_stay(root):
    for age in range(8):
        folder = root / f"old{age}"
        folder.mkdir(parents=True)
        (folder / "code.nbi").write_text("x")
        os.utime(folder, (time.time() - 100.0 * (age + 1),) * 2)
    (root / "file").write_text("not a folder")
    kept = module._cache_folder()
    assert {path.name for path in root.iterdir()} == {kept.name, "old0", "old1", "old2", "old3", "file"}


def test_folder_that_another_user_made_is_not_trusted(root, monkeypatch):
    monkeypatch.setattr(module, "_owned", lambda _: False)
    folder = module._cache_folder()
    assert folder.is_dir()
    assert folder.name != module._source_hash()
    assert root not in folder.parents
    folder.rmdir()


def test_cache_that_cannot_be_made_is_put_elsewhere(tmp_path, monkeypatch):
    (tmp_path / "ullage").write_text("a file in the way")
    monkeypatch.setattr(module, "_user_cache", lambda: tmp_path)
    monkeypatch.setattr(module.tempfile, "gettempdir", lambda: str(tmp_path / "temporary"))
    module._cache_folder.cache_clear()
    folder = module._cache_folder()
    module._cache_folder.cache_clear()
    assert tmp_path / "temporary" in folder.parents
    assert os.access(folder, os.W_OK)
