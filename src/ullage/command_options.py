"""What commands share: options, exit codes, and faults as JSON."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Iterator
from typing import Any

import click

from ullage.errors import ScenarioError

EXIT_FAILED = 1
EXIT_BAD_INPUT = 2
EXIT_INTERRUPTED = 130

Command = Callable[..., Any]


def common(command: Command) -> Command:
    """Give a command the file that it reads and the options that all have."""
    options: tuple[Command, ...] = (
        click.argument("file", type=click.Path(allow_dash=True)),
        click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Change a value of the scenario."),
        click.option("--units", type=click.Choice(["metric", "us"]), help="Units of what is printed."),
        click.option("--json", "as_json", is_flag=True, help="Print JSON in SI units."),
        click.option("--quiet", is_flag=True, help="Print nothing but errors."),
    )
    for option in options:
        command = option(command)
    return command


@contextlib.contextmanager
def faults_as_json(wanted: bool) -> Iterator[None]:
    """Print the faults of a file as JSON where that is wanted, and leave."""
    try:
        yield
    except ScenarioError as error:
        if not wanted:
            raise
        click.echo(json.dumps({"faults": [fault._asdict() for fault in error.faults]}, indent=2))
        sys.exit(EXIT_BAD_INPUT)
