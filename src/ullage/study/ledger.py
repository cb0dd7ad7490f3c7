"""The directory of a study: one study in each, shards that appear only when complete, and what is missing."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import h5py

from ullage.errors import UllageError, quoted
from ullage.results.store import LEDGER_FILE, STUDY_FILE, remove_left_parts, save_first
from ullage.results.variables import FORMAT_VERSION
from ullage.study.load import study_of
from ullage.study.plan import Study, StudySource

_SHARDS = "shards"


class StudyError(UllageError):
    """A study that cannot be run or gathered as asked; what is done stays."""


@dataclass(frozen=True)
class Ledger:
    """What a directory holds of a study.

    Parameters
    ----------
    study : Study
        The study; no other writes there.
    directory : Path
        Its directory.
    """

    study: Study
    directory: Path

    @property
    def study_file(self) -> Path:
        """The file that holds the gathered results."""
        return self.directory / STUDY_FILE

    @property
    def gathered(self) -> bool:
        """Whether the study is finished."""
        return self.study_file.is_file()

    def shard_file(self, shard: int) -> Path:
        """Return the file of a shard."""
        return self.directory / _SHARDS / f"{shard:06d}.h5"

    def missing(self) -> list[int]:
        """Return the shards that are not there yet."""
        there = set(os.listdir(self.directory / _SHARDS))
        return [shard for shard in range(self.study.shards) if self.shard_file(shard).name not in there]

    def progress(self) -> str:
        """Say how far the study is."""
        try:
            done = self.study.shards - len(self.missing())
        except OSError as error:
            return f"its shards cannot be seen ({error.strerror})"
        return f"{done} of {self.study.shards} shards are done"


def open_ledger(study: Study, directory: str | Path) -> Ledger:
    """Give a study its directory: make it if there is none, else see that it is that of this study.

    Parameters
    ----------
    study : Study
        The study.
    directory : str or Path
        Its directory.

    Returns
    -------
    Ledger
        What it holds.

    Raises
    ------
    StudyError
        If it cannot be made, or holds another study.
    ResultsError
        If it cannot be written to.
    """
    ledger = Ledger(study, Path(directory).absolute())
    try:
        (ledger.directory / _SHARDS).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StudyError(f"{directory}: cannot be made: {error.strerror}") from None
    file = ledger.directory / LEDGER_FILE
    if not file.exists():
        _refuse_results(ledger)
        save_first(json.dumps(_identity(study), indent=2), file)
    _refuse_another(study, directory, file)
    if ledger.gathered and _hash_of(ledger.study_file) != study.hash:
        raise StudyError(f"{ledger.study_file}: is of another study: take it away, or take another directory")
    for folder in (ledger.directory, ledger.directory / _SHARDS):
        remove_left_parts(folder)
    return ledger


def _refuse_results(ledger: Ledger) -> None:
    """Refuse a directory that holds results and does not say of which study."""
    if ledger.gathered or any((ledger.directory / _SHARDS).glob("*.h5")):
        raise StudyError(f"{ledger.directory}: holds results without {LEDGER_FILE}: take another directory")


def _hash_of(file: Path) -> str:
    try:
        with h5py.File(file, "r") as opened:
            return str(opened.attrs.get("study_hash", ""))
    except OSError:
        raise StudyError(f"{file}: is damaged: take it away, then --gather") from None


def _identity(study: Study) -> dict[str, Any]:
    return {
        "format_version": FORMAT_VERSION,
        "study_hash": study.hash,
        "title": study.title,
        "ullage_version": version("ullage"),
        "members": study.members,
        "shard_size": study.shard_size,
        "shards": study.shards,
        "study_toml": study.source.text,
        "study_file": str(Path(study.source.name).absolute()),
        "changes": dict(study.source.changes),
        "scenario_toml": study.scenario.to_toml(),
    }


def study_in(directory: Path, study_hash: str) -> Study:
    """Make the study of a directory once more, for a worker that knows nothing else.

    Parameters
    ----------
    directory : Path
        Directory of a study.
    study_hash : str
        Hash of the study that is meant.

    Returns
    -------
    Study
        The study.

    Raises
    ------
    StudyError
        If scenario or table of members were changed since the study was begun.
    ScenarioError
        If they cannot be used any more.
    """
    held = json.loads((directory / LEDGER_FILE).read_text(encoding="utf-8"))
    study = study_of(StudySource(held["study_toml"], held["study_file"], held["changes"]))
    if study.hash != study_hash:
        why = "its scenario or table was changed meanwhile, or a worker has another ullage or other libraries"
        raise StudyError(f"{held['study_file']}: {why}")
    return study


def _refuse_another(study: Study, directory: str | Path, file: Path) -> None:
    try:
        held = json.loads(file.read_text(encoding="utf-8"))
        found, title, written_by = held["study_hash"], held["title"], held["ullage_version"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StudyError(f"{file}: cannot be read: {error!r}; take another directory") from None
    if found == study.hash:
        return
    same_text = held.get("study_toml") == study.source.text and held.get("scenario_toml") == study.scenario.to_toml()
    if same_text:
        why = f"was begun by another version ({written_by}) or with another table of members"
    else:
        why = f"holds another study, {quoted(title)}, or this one before it was changed"
    raise StudyError(f"{directory}: {why}: take another directory (study {study.hash}, there {found})")
