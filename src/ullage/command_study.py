"""The `ullage study` command: run a study, a part of it, or gather what others ran."""

from __future__ import annotations

import gc
import json
import math
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ullage.command_options import EXIT_FAILED, EXIT_INTERRUPTED, common

if TYPE_CHECKING:
    import xarray as xr

    from ullage.command_input import Given
    from ullage.results.display import System
    from ullage.study.ledger import Ledger
    from ullage.study.shard import Done

# figures whose spread is parted among uncertain inputs; that of the first is drawn
_EXPLAINED = ("cavitation_exposure", "highest_headspace_gauge_pressure", "peak_oil_temperature", "lowest_rating_margin")
_SPEAKS = 10.0  # time between two lines of progress where there is no terminal [s]


@click.command()
@common
@click.option(
    "--out", required=True, type=click.Path(file_okay=False), metavar="DIR", help="Folder of this study alone."
)
@click.option("--workers", type=click.IntRange(1), metavar="N", help="Threads; one for each core if absent.")
@click.option("--scheduler", metavar="ADDRESS", help="Dask scheduler whose workers march, such as tcp://10.0.0.5:8786.")
@click.option("--shard", metavar="I/N", help="Do the I-th of N equal parts, from 1 on, and leave the gathering.")
@click.option("--gather", is_flag=True, help="Only gather what is done.")
@click.option("--resume", is_flag=True, help="Go on with what the folder holds of this study.")
def study(
    file: str,
    changes: tuple[str, ...],
    units: str | None,
    as_json: bool,
    quiet: bool,
    out: str,
    workers: int | None,
    scheduler: str | None,
    shard: str | None,
    gather: bool,
    resume: bool,
) -> None:
    """Run all races of a study FILE (- reads standard input).

    Killed at any moment, it goes on with --resume. On a cluster: --scheduler, or --shard in a job array, then --gather.
    """
    part = _part(shard)
    if sum(map(bool, (workers, scheduler, gather))) > 1 or (part and gather):
        raise click.UsageError("--workers, --scheduler and --gather exclude each other, as do --shard and --gather")
    if not out:
        raise click.UsageError("--out: the name of the folder is empty")
    from ullage.command_input import given
    from ullage.results.store import LEDGER_FILE
    from ullage.study.ledger import StudyError, open_ledger

    gc.enable()
    asked = given(file, changes).study()
    if gather and not (Path(out) / LEDGER_FILE).is_file():
        raise StudyError(f"{out}: holds no study: --gather needs the folder into which its shards were written")
    ledger = open_ledger(asked, out)
    try:
        if not ledger.gathered and not gather:
            _march(ledger, part, workers, scheduler, resume, quiet or as_json)
        if part:
            _say_part(ledger, quiet)
            return
        if not ledger.gathered:
            from ullage.study.gather import gather as gathering

            gathering(ledger)
    except KeyboardInterrupt:
        click.echo(f"interrupted: {ledger.progress()} and stay: go on with --resume", err=True)
        sys.exit(EXIT_INTERRUPTED)
    if not _answer(ledger, units, as_json, quiet):
        sys.exit(EXIT_FAILED)


def _part(text: str | None) -> tuple[int, int] | None:
    if text is None:
        return None
    match = re.fullmatch(r"([0-9]{1,9})/([0-9]{1,9})", text)
    if not match or not 1 <= int(match[1]) <= int(match[2]):
        raise click.UsageError(f"--shard: '{text[:40]}' is not I/N, with I from 1 to N, such as 3/40")
    return int(match[1]), int(match[2])


def _march(
    ledger: Ledger,
    part: tuple[int, int] | None,
    workers: int | None,
    scheduler: str | None,
    resume: bool,
    quiet: bool,
) -> None:
    from ullage.study.run import run_shards, to_do
    from ullage.study.workers import connected

    shards = to_do(ledger, resume=resume or part is not None, part=part or (1, 1))
    if part and part[0] > ledger.study.shards and not quiet:
        click.echo(f"part {part[0]} has nothing to do: the study has {ledger.study.shards} shards", err=True)
    client = connected(scheduler) if scheduler else None
    members = sum(len(ledger.study.shard_members(shard)) for shard in shards)
    with Told(members, quiet) as told:
        run_shards(ledger, shards, workers=workers, client=client, watcher=told)


class Told:
    """What a running study tells, said as a bar on a terminal and in plain lines elsewhere."""

    def __init__(self, members: int, quiet: bool) -> None:
        from tqdm import tqdm

        self._members, self._quiet = members, quiet
        self._done = self._failed = 0
        self._spoken = math.inf  # counted from the first shard on: what is compiled before is nobody's progress
        self._bar = tqdm(total=members, unit=" races", disable=True if quiet else None, leave=False)

    def __enter__(self) -> Told:
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.close()

    def done(self, done: Done) -> None:
        """Say how many races are done."""
        self._done += done.members
        self._failed += done.failed
        self._bar.update(done.members)
        self._spoken = min(self._spoken, time.monotonic())
        if self._bar.disable and time.monotonic() - self._spoken > _SPEAKS:
            self._say(f"{self._done:,} of {self._members:,} races done, {self._failed:,} failed")

    def waiting(self, reason: str) -> None:
        """Say what is waited for."""
        self._say(f"waiting: {reason}; Ctrl-C stops, --resume goes on")

    def _say(self, text: str) -> None:
        self._spoken = time.monotonic()
        if not self._quiet:
            click.echo(text, err=True)


def _say_part(ledger: Ledger, quiet: bool) -> None:
    if quiet:
        return
    click.echo(f"{ledger.directory}: {ledger.progress()}")
    if not ledger.missing():
        click.echo("all are there: --gather makes them one")


def _answer(ledger: Ledger, units: str | None, as_json: bool, quiet: bool) -> bool:
    """Write, draw and print what a gathered study says; return whether any race of it was finished."""
    from ullage.cautions import SHORT_CAUTION
    from ullage.results.store import open_results, save_text
    from ullage.results.study_json import study_json
    from ullage.results.study_words import study_text
    from ullage.study.describe import warned_lines

    data, folder = open_results(ledger.directory), ledger.directory
    shown: System = "us" if (units or ledger.study.scenario.spec.display.units) == "us" else "metric"
    found, lines = _effects(data)
    text = study_json(data, found)
    save_text(text, folder / "study.json")
    drawn, missing = _draw(data, found, folder, shown)
    written = [ledger.study_file.name, "study.json", *drawn]
    finished = bool((data.status == "done").any())
    if quiet:
        return finished
    if as_json:
        click.echo(text)
        return finished
    warned = "\n".join([*warned_lines(ledger.study), ""])
    click.echo("\n".join([f"{warned}{study_text(data, shown)}", *lines, *missing]))
    click.echo(f"written to {folder}: {', '.join(written)}")
    click.echo(SHORT_CAUTION)
    return finished


def _effects(data: xr.Dataset) -> tuple[list[xr.Dataset], list[str]]:
    """Return what moves the figures of a sample, and the same in words; of a grid or a table nothing can be told."""
    from ullage.errors import UllageError
    from ullage.results.study_axes import is_sample
    from ullage.results.study_words import effect_lines
    from ullage.study.effects import effects

    if not is_sample(data):
        return [], []
    found: list[xr.Dataset] = []
    lines: list[str] = []
    for figure in _EXPLAINED:
        try:
            found.append(effects(data, figure))
            lines += effect_lines(found[-1])
        except UllageError as error:
            lines += [text for text in [f"no effects: {error}"] if text not in lines]
    return found, lines


def _draw(data: xr.Dataset, effects: list[xr.Dataset], folder: Path, units: System) -> tuple[list[str], list[str]]:
    """Draw what the design of a study lets one draw; return the files, and what could not be drawn and why."""
    from ullage.errors import UllageError
    from ullage.report.study_bands import BANDS_FIGURE, save_study_bands
    from ullage.report.study_effects import EFFECTS_FIGURE, save_study_effects
    from ullage.report.study_map import MAP_FIGURE, save_study_map
    from ullage.results.study_axes import GRID, is_sample, sampling_of

    wanted: list[tuple[str, Callable[[Path], None]]] = []
    if sampling_of(data) == GRID:
        wanted.append((MAP_FIGURE, lambda path: save_study_map(data, path, units)))
    if is_sample(data) and "traced_member" in data.dims:
        wanted.append((BANDS_FIGURE, lambda path: save_study_bands(data, path, units)))
    if told := [each for each in effects if not each.attrs["sentence"]]:
        wanted.append((EFFECTS_FIGURE, lambda path: save_study_effects(told[0], path)))
    written, lines = [], []
    for name, save in wanted:
        try:
            save(folder / name)
            written.append(name)
        except UllageError as error:
            lines.append(f"no {name}: {error}")
    return written, lines


def check_study(found: Given, as_json: bool, quiet: bool) -> None:
    """List every fault of a study, or say what was understood of it and what it will cost."""
    asked = found.study()
    if quiet:
        return
    from ullage.study.describe import describe_study, study_facts

    if as_json:
        click.echo(json.dumps({"faults": [], **study_facts(asked)}, indent=2))
    else:
        click.echo(describe_study(asked))
