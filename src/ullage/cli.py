"""The `ullage` command: arguments, exit codes, and everything that is printed."""

from __future__ import annotations

import gc
import io
import json
import os
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ullage.command_export import export
from ullage.command_options import EXIT_BAD_INPUT, EXIT_FAILED, EXIT_INTERRUPTED, common, leave
from ullage.command_study import check_study, study

if TYPE_CHECKING:
    import xarray as xr

    from ullage.results.display import System
    from ullage.results.pit_json import PitStudy
    from ullage.scenario.load import Scenario


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="ullage", prog_name="ullage")
def commands() -> None:
    """Simulate oil, air space and pressure cap of a power-steering reservoir over a race.

    Hot oil under pressure burns and injects. Results are estimates, never a permission to open a hot reservoir.
    """


@commands.command()
@common
@click.option(
    "--out", type=click.Path(file_okay=False), metavar="DIR", help="Folder for duty.png, duty.csv and duty.json."
)
def check(file: str, changes: tuple[str, ...], units: str | None, as_json: bool, quiet: bool, out: str | None) -> None:
    """List every fault of a scenario or study FILE, or say what was understood of it (- reads standard input)."""
    _refuse_no_name(out)
    from ullage.command_input import given

    found = given(file, changes)
    if found.is_study:
        if out is not None:
            raise click.UsageError("--out: only of a scenario: a study drives many races, each its own")
        check_study(found, as_json, quiet)
        return
    scenario = found.scenario()
    shown: System = "us" if (units or scenario.spec.display.units) == "us" else "metric"
    written = [] if out is None else _write_duty(scenario, _folder(out), shown)
    if quiet:
        return
    from ullage.scenario.describe import describe, scenario_facts

    if as_json:
        click.echo(json.dumps({"faults": [], **scenario_facts(scenario)}, indent=2))
        return
    click.echo(describe(scenario, shown))
    if written:
        click.echo(f"written to {out}: {', '.join(written)}")
    _echo_cautions()


def _echo_cautions() -> None:
    from ullage.cautions import CAUTIONS

    click.echo("cautions:")
    for caution in CAUTIONS:
        click.echo(click.wrap_text(caution, width=110, initial_indent="  - ", subsequent_indent="    "))


def _print_schema(context: click.Context, _: click.Parameter, wanted: bool) -> None:
    if not wanted:
        return
    from ullage.results.summary_schema import schema_text

    click.echo(schema_text(), nl=False)
    context.exit()


@commands.command()
@common
@click.option(
    "--out", type=click.Path(file_okay=False), metavar="DIR", help="Folder for run.nc, summary.json and race.png."
)
@click.option(
    "--schema",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_schema,
    help="Print the JSON Schema of what --json prints.",
)
def run(file: str, changes: tuple[str, ...], units: str | None, as_json: bool, quiet: bool, out: str | None) -> None:
    """Simulate the race of a scenario FILE (- reads standard input)."""
    _refuse_no_name(out)
    scenario = _load(file, changes)
    from ullage.api import simulate_with_bracket
    from ullage.results.screen import summary_text
    from ullage.results.summary import summary_json
    from ullage.scenario.describe import note_lines, warning_lines

    folder = None if out is None else _folder(out)
    data, bracket = simulate_with_bracket(scenario)
    shown: System = "us" if (units or scenario.spec.display.units) == "us" else "metric"
    written = [] if folder is None else _write(data, bracket, folder, shown)
    if quiet:
        return
    if as_json:
        click.echo(summary_json(data, bracket))
        return
    click.echo("\n".join([summary_text(data, shown, bracket), *note_lines(scenario), *warning_lines(scenario, shown)]))
    if written:
        click.echo(f"written to {out}: {', '.join(written)}")
    from ullage.cautions import SHORT_CAUTION

    click.echo(SHORT_CAUTION)


@commands.command()
@common
@click.option("--stop", metavar="NAME|TIME", help="Which stop; at a race time without one a stop is put in.")
@click.option("--open-for", metavar="TIME", help="How long the cap is off, such as '60 s'.")
@click.option(
    "--out", type=click.Path(file_okay=False), metavar="DIR", help="Folder for pit.nc, pit.json, pit.png and the card."
)
def pit(
    file: str,
    changes: tuple[str, ...],
    units: str | None,
    as_json: bool,
    quiet: bool,
    stop: str | None,
    open_for: str | None,
    out: str | None,
) -> None:
    """Compare what the cap can be made to do at a stop of a scenario FILE (- reads standard input).

    Costs and warnings, never a permission to open.
    """
    _refuse_no_name(out)
    scenario = _load(file, changes)
    from ullage.advise.pit_study import pit_study
    from ullage.results.pit_json import pit_json
    from ullage.results.pit_words import pit_text
    from ullage.scenario.describe import warning_lines

    folder = None if out is None else _folder(out)
    shown: System = "us" if (units or scenario.spec.display.units) == "us" else "metric"
    study = pit_study(scenario, stop, open_for, shown)
    written = [] if folder is None else _write_pit(study, folder, shown)
    if quiet:
        return
    if as_json:
        click.echo(pit_json(study))
        return
    click.echo("\n".join([pit_text(study, shown), *warning_lines(scenario, shown)]))
    if written:
        click.echo(f"written to {out}: {', '.join(written)}")
    from ullage.cautions import SHORT_CAUTION

    click.echo(SHORT_CAUTION)


@commands.command()
@click.argument("name", type=click.Path())
@click.option("--quiet", is_flag=True, help="Print nothing but errors.")
def new(name: str, quiet: bool) -> None:
    """Write a commented scenario to start from to NAME, such as truck.toml."""
    from ullage.scenario.starter import SCHEMA_FILE, write_starter

    write_starter(name)
    if not quiet:
        click.echo(f"{name} is a truck with invented data, {SCHEMA_FILE} lets an editor check it.")
        click.echo(f"Put in your own numbers, then: ullage check {name}")


def _write_duty(scenario: Scenario, folder: Path, units: System) -> list[str]:
    from ullage.report.duty_figure import DUTY_FIGURE, save_duty_figure
    from ullage.results.duty_cycle import DUTY_FACTS, DUTY_TABLE, duty_cycle, save_duty_table
    from ullage.results.store import save_text

    duty = duty_cycle(scenario)
    save_duty_figure(duty, folder / DUTY_FIGURE, units)
    save_duty_table(duty, folder / DUTY_TABLE)
    save_text(json.dumps(json.loads(duty.attrs["duty_statistics"]), indent=2), folder / DUTY_FACTS)
    return [DUTY_FIGURE, DUTY_TABLE, DUTY_FACTS]


def _write(data: xr.Dataset, bracket: dict[str, dict[str, Any]], folder: Path, units: System) -> list[str]:
    from ullage.report.figures import RACE_FIGURE, save_race_figure
    from ullage.results.store import RUN_FILE, SUMMARY_FILE, save_results, save_text
    from ullage.results.summary import summary_json

    save_results(data, folder / RUN_FILE)
    save_text(summary_json(data, bracket), folder / SUMMARY_FILE)
    save_race_figure(data, folder / RACE_FIGURE, units)
    return [RUN_FILE, SUMMARY_FILE, RACE_FIGURE]


def _write_pit(study: PitStudy, folder: Path, units: System) -> list[str]:
    from ullage.report.pit_card import PIT_CARD, save_pit_card
    from ullage.report.pit_figure import PIT_FIGURE, save_pit_figure
    from ullage.results.pit_json import pit_json
    from ullage.results.pit_words import card_sentences
    from ullage.results.store import save_results, save_text

    save_results(study.choices, folder / "pit.nc")
    save_text(pit_json(study), folder / "pit.json")
    save_pit_figure(study.choices, folder / PIT_FIGURE, units)
    sentences = list(card_sentences(study.choices, units))
    save_pit_card(study.choices, study.gauges, study.symptoms, sentences, folder, units)
    return ["pit.nc", "pit.json", PIT_FIGURE, f"{PIT_CARD}.pdf", f"{PIT_CARD}.png"]


def _refuse_no_name(out: str | None) -> None:
    if out == "":
        raise click.UsageError("--out: the name of the folder is empty")


def _folder(out: str) -> Path:
    from ullage.results.store import ResultsError

    folder = Path(out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ResultsError(f"{out}: cannot be made: {error.strerror}") from None
    if not os.access(folder, os.W_OK | os.X_OK):
        raise ResultsError(f"{out}: cannot be written to: permission denied")
    return folder


def _load(file: str, changes: tuple[str, ...]) -> Scenario:
    """Read and change a scenario."""
    from ullage.command_input import given

    return given(file, changes).scenario()


commands.add_command(study)
commands.add_command(export)


def script() -> None:
    """Run the command in a process of its own.

    The libraries that it loads are millions of objects that live as long as the process; looking through them for
    garbage again and again, and once more at the end, would take a third of a short run. Numba asks for SciPy's linear
    algebra while it loads; our kernels have none, and loading it would take a tenth.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # threads of linear algebra would stand in the way of ours
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # a time limit ends a study as Ctrl-C does
    gc.disable()
    sys.modules["scipy.linalg.cython_blas"] = None  # type: ignore[assignment]
    try:
        main()
    finally:
        gc.freeze()


def main() -> None:
    """Run the command; turn every error into a sentence and an exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        commands(standalone_mode=False)
    except click.exceptions.Abort:
        sys.exit(EXIT_INTERRUPTED)
    except KeyboardInterrupt:
        sys.exit(EXIT_INTERRUPTED)
    except click.ClickException as error:
        error.show()
        sys.exit(EXIT_BAD_INPUT)
    except OSError as error:
        if not isinstance(error, BrokenPipeError):
            click.echo(f"the output cannot be written: {error.strerror}", err=True)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(EXIT_FAILED)
    except Exception as error:
        leave(error)
