"""What commands share: options, exit codes, and how each ends that has no result."""

from __future__ import annotations

import functools
import os
import sys
import traceback
from collections.abc import Callable
from typing import Any, NoReturn

import click

from ullage.errors import ScenarioError
from ullage.results.answer import error_json, error_text

EXIT_FAILED = 1
EXIT_BAD_INPUT = 2
EXIT_INTERRUPTED = 130
MOST_FAULTS = 50

Command = Callable[..., Any]


def common(command: Command) -> Command:
    """Give a command the file that it reads and the options that all have; with --json, its errors are JSON as well."""
    options: tuple[Command, ...] = (
        click.argument("file", type=click.Path(allow_dash=True)),
        click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Change a value of the scenario."),
        click.option("--units", type=click.Choice(["metric", "us"]), help="Units of what is printed."),
        click.option("--json", "as_json", is_flag=True, help="Print JSON in SI units."),
        click.option("--quiet", is_flag=True, help="Print nothing but errors."),
    )
    command = _answering(command)
    for option in options:
        command = option(command)
    return command


def _answering(command: Command) -> Command:
    """Make a command print what ends it as JSON where that is wanted; wrong options and a broken output cannot be."""

    @functools.wraps(command)
    def answering(**given: Any) -> None:
        try:
            command(**given)
        except (click.ClickException, OSError):
            raise
        except Exception as error:
            if not given["as_json"]:
                raise
            _show_traceback()
            click.echo(error_json(error))
            sys.exit(_exit_code(error))

    return answering


def leave(error: Exception) -> NoReturn:
    """Say an error in sentences, and leave."""
    _show_traceback()
    click.echo(_listed(error) if isinstance(error, ScenarioError) else error_text(error), err=True)
    sys.exit(_exit_code(error))


def _exit_code(error: Exception) -> int:
    return EXIT_BAD_INPUT if isinstance(error, ScenarioError) else EXIT_FAILED


def _listed(error: ScenarioError) -> str:
    lines = [str(fault) for fault in error.faults]
    left = len(lines) - MOST_FAULTS
    return "\n".join([*lines[:MOST_FAULTS], *([f"and {left} more"] if left > 0 else [])])


def _show_traceback() -> None:
    if os.environ.get("ULLAGE_DEBUG") == "1":
        traceback.print_exc()
