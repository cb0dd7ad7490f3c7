"""The rows themselves: each exercises a law that the march uses, and names who vouches for it."""

import ast
import importlib
from pathlib import Path

import pytest

import ullage
from not_checked import OWN_JUDGEMENT
from outside import DERIVED, LIBRARY, MEMORY, PRACTICE, PUBLISHED, WHOLE_JOB, sources
from rows import CHECKS, KINDS

SOURCE = Path(ullage.__file__).parent


def names_in(files):
    """Return every name and attribute that some files use outside the definition of the name itself."""
    used = set()
    for path in files:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute):
                used.add(node.attr)
            elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
                used.add(node.id)
    return used


USED = names_in(path for layer in ("physics", "kernel", "duty", "scenario") for path in (SOURCE / layer).glob("*.py"))
LAWS = sorted({law for check in CHECKS if check.law != WHOLE_JOB for law in check.law.split(", ")})


@pytest.mark.parametrize("law", LAWS)
def test_a_law_with_rows_is_one_that_the_race_uses(law):
    module, name = law.split(".")
    assert hasattr(importlib.import_module(f"ullage.physics.{module}"), name)
    assert name in USED


def test_every_law_has_a_row_or_is_named_as_our_own():
    laws = {
        f"{path.stem}.{node.name}"
        for path in (SOURCE / "physics").glob("*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    }
    assert laws - set(LAWS) == set(OWN_JUDGEMENT)


def test_every_row_of_every_file_is_gathered():
    for path in Path(__file__).parent.glob("test_*.py"):
        written = getattr(importlib.import_module(path.stem), "CHECKS", [])
        assert [check for check in written if check not in CHECKS] == [], f"list {path.name} in rows.py"


def test_there_are_rows_enough_from_sources_enough():
    assert sum(check.law != WHOLE_JOB for check in CHECKS) >= 70
    assert sum(check.law == WHOLE_JOB for check in CHECKS) >= 20
    assert sources(CHECKS) >= 20


def test_every_row_says_how_its_value_is_known_and_why_it_may_deviate():
    for check in CHECKS:
        assert check.evidence in (PUBLISHED, LIBRARY, DERIVED, MEMORY, PRACTICE)
        assert check.why
    assert len({str(check) for check in CHECKS}) == len(CHECKS)
    assert all(KINDS.values())
