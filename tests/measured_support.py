"""Invented logs beside the test truck: what its sensors said, written as a file."""

from support import truck
from ullage.scenario.load import Scenario

PSI, ATMOSPHERE = 6894.757293168361, 101325.0
CLOCK = {"column": "t", "unit": "s"}


def written(folder, columns):
    """Write a log of columns by header, and return its name."""
    rows = zip(*columns.values(), strict=True)
    lines = [",".join(columns), *(",".join(repr(float(value)) for value in row) for row in rows)]
    (folder / "log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return "log.csv"


def with_log(folder, columns, changes=None, **measured):
    """Return the test truck with a log; `measured` maps columns, as (header, unit), and other keys."""
    mapped = {
        key: {"column": value[0], "unit": value[1]} if isinstance(value, tuple) else value
        for key, value in measured.items()
    }
    tree = truck(changes).to_dict()
    tree["measured"] = {"file": str(folder / written(folder, columns)), "time": CLOCK, **mapped}
    return Scenario.from_dict(tree)
