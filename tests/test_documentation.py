"""The reference pages name everything that there is, and what the pages tell a reader to type works."""

import os
import re
import runpy
import shlex
import sys
import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel

from ullage import cli
from ullage.api import simulate_with_bracket
from ullage.errors import ScenarioError
from ullage.results.choice_variables import CHOICE_COORDINATES, EXPOSURE_SINCE_STOP, OWN_FIGURES, STOP_FIGURES
from ullage.results.screen import summary_text
from ullage.results.variables import (
    CAP_STATES,
    COORDINATES,
    DUTY_FIGURES,
    DUTY_VARIABLES,
    EVENT_VARIABLES,
    MEASURED_VARIABLES,
    SUMMARY_FIGURES,
    SUMMARY_PARTS,
    VARIABLES,
)
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import nested_spec, quantity_of
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.race import race_pieces

ROOT = Path(__file__).parent.parent
NEED_A_COMPILER = ("embedding.md", "fmi.md")
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCED = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def specifications(model: type[BaseModel], name=""):
    """Go through a specification and everything inside it, with dotted names."""
    yield name, model
    for field in model.model_fields:
        if inner := nested_spec(model, field):
            yield from specifications(inner, f"{name}.{field}".lstrip("."))


@pytest.mark.parametrize(("table", "model"), list(specifications(ScenarioSpec)))
def test_scenario_page_has_every_key_with_its_range_and_default(table, model):
    text = (ROOT / "docs" / "scenario.md").read_text()
    sections = re.split(r"^## ", text, flags=re.MULTILINE)
    section = next(each for each in sections if not table or f"{table}]" in each.split("\n")[0])
    for name in model.model_fields:
        if nested_spec(model, name):
            continue
        rows = [line for line in section.splitlines() if line.startswith(f"| `{name}` |")]
        assert rows, f"{table}.{name} is missing"
        if quantity := quantity_of(model, name):
            assert f"{quantity.low} to {quantity.high}" in rows[0]
            assert quantity.default is None or quantity.default in rows[0]
            assert ("(weak)" in rows[0]) == quantity.weak


def test_recipes_for_segments_are_a_race_together():
    section = (ROOT / "docs" / "scenario.md").read_text().split("### Gears")[1].split("\n## ")[0]
    lines = [line[4:] for line in section.splitlines() if line.startswith("    ")]
    head = load_scenario(ROOT / "scenarios" / "ironwood.toml").to_dict()
    head.pop("pit")  # it asks of a stop that is not there
    head["duty"] = {"laps": 4, "seed": 1, **tomllib.loads("\n".join(lines))["duty"]}
    head["weather"] = tomllib.loads("\n".join(lines))["weather"]
    laps = [piece.lap for piece in race_pieces(Scenario.from_dict(head).spec)[0]]
    assert (laps.count(1), laps.count(2), laps.count(4)) == (4, 6, 4)


def test_wrong_file_of_the_scenario_page_gives_the_faults_shown_there():
    section = (ROOT / "docs" / "scenario.md").read_text().split("## Faults")[1]
    text, shown = (section.split(f"```{kind}\n")[1].split("```")[0] for kind in ("toml", "text"))
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_toml(text, "wrong.toml")
    assert f"{caught.value}\n" == shown


@pytest.mark.parametrize("name", [*VARIABLES, *MEASURED_VARIABLES, *EVENT_VARIABLES, *COORDINATES])
def test_results_page_has_every_variable_with_its_unit(name):
    text = (ROOT / "docs" / "results.md").read_text()
    row = next(line for line in text.splitlines() if line.startswith(f"| `{name}` |"))
    units = {**VARIABLES, **MEASURED_VARIABLES, **EVENT_VARIABLES, **COORDINATES}[name].units
    assert units in row


def test_results_page_has_every_cap_state():
    text = (ROOT / "docs" / "results.md").read_text()
    assert all(f"`{state}`" in text for state in CAP_STATES)


def test_page_of_duty_cycles_shows_the_notes_of_its_demo():
    notes = load_scenario(ROOT / "scenarios" / "logger_lap.toml").spec.duty.recording.log.notes
    shown = [line.strip() for line in (ROOT / "docs" / "duty.md").read_text(encoding="utf-8").splitlines()]
    assert len(notes) > 5
    assert shown[shown.index(notes[0]) :][: len(notes)] == [*notes]


def test_readme_shows_python_early():
    assert (ROOT / "README.md").read_text(encoding="utf-8").splitlines().index("```python") < 35


def test_printed_result_of_the_readme_is_what_the_demo_prints():
    shown = (ROOT / "README.md").read_text().split("invented course:\n\n")[1].split("\n\n")[0]
    data, bracket = simulate_with_bracket(load_scenario(ROOT / "scenarios" / "ironwood.toml"))
    printed = summary_text(data, "us", bracket)
    # all but the balances, which are rounding and differ between machines
    assert [line.strip() for line in shown.splitlines()[:-1]] == [line.strip() for line in printed.splitlines()[:-1]]


KEYS = [(table, model, name) for table, model in specifications(ScenarioSpec) for name in model.model_fields]
KEYS = [(table, model, name) for table, model, name in KEYS if nested_spec(model, name) is None]


def test_reference_pages_are_what_the_script_writes():
    for page, text in runpy.run_path(str(ROOT / "docs" / "tables.py"))["pages"]().items():
        assert page.read_text(encoding="utf-8") == text, f"run `python docs/tables.py`: docs/{page.name} is behind"


def test_glossary_has_every_key_and_every_name_of_a_result():
    names = [f"{table}.{name}".lstrip(".") for table, _, name in KEYS]
    names += [
        *COORDINATES,
        *VARIABLES,
        *MEASURED_VARIABLES,
        *EVENT_VARIABLES,
        *SUMMARY_FIGURES,
        *(name for part in SUMMARY_PARTS.values() for name in part),
        *(DUTY_FIGURES | DUTY_VARIABLES),
    ]
    names += [EXPOSURE_SINCE_STOP, *OWN_FIGURES, *CHOICE_COORDINATES, *STOP_FIGURES]
    lines = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8").splitlines()
    rows = [line.split("|")[1].strip(" `") for line in lines if line.startswith("| `")]
    assert sorted(rows) == sorted(names)


@pytest.mark.parametrize(("table", "model", "name"), KEYS)
def test_key_says_what_it_is_and_what_is_positive_if_it_can_be_negative(table, model, name):
    assert model.model_fields[name].description, f"{table}.{name} needs a description"
    quantity = quantity_of(model, name)
    if quantity and quantity.kind not in ("temperature", "pressure level"):  # their kinds say it
        assert bool(quantity.sign) == (quantity.limits()[0] < 0.0), (
            f"{table}.{name}: give `sign` if it takes both signs"
        )


def run_command(line, monkeypatch, capsys):
    """Run a line of a shell block in this process, as the console script does; return its exit code and its errors."""
    monkeypatch.setattr(sys, "argv", shlex.split(line, comments=True))
    code = 0
    try:
        cli.main()
    except SystemExit as stopped:
        code = stopped.code
    return code, capsys.readouterr().err


@pytest.mark.parametrize(
    "page",
    [pytest.param(page, marks=pytest.mark.export) if page.name in NEED_A_COMPILER else page for page in PAGES],
    ids=lambda page: page.name,
)
def test_blocks_of_a_page_run_in_their_order(page, tmp_path, monkeypatch, capsys):
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PATH", str(Path(sys.executable).parent), prepend=os.pathsep)  # where the command is installed
    names = {}
    for language, block in FENCED.findall(page.read_text(encoding="utf-8")):
        if language == "python":
            exec(block, names)
        elif language == "toml":
            assert tomllib.loads(block)
        elif language == "sh" and block.startswith("ullage"):
            for line in block.replace("\\\n", " ").splitlines():
                assert (line, *run_command(line, monkeypatch, capsys)) == (line, 0, "")


def test_quickstart_and_readme_hold_blocks_that_run():
    found = {page.name: [kind for kind, _ in FENCED.findall(page.read_text(encoding="utf-8"))] for page in PAGES}
    assert {"sh", "python"} <= set(found["quickstart.md"])
    assert "python" in found["README.md"]


@pytest.mark.parametrize("page", [*PAGES, ROOT / "DEVELOPERS.md"], ids=lambda page: page.name)
def test_links_of_a_page_lead_somewhere(page):
    targets = re.findall(r"\]\(([^)#]+)", page.read_text(encoding="utf-8"))
    assert [target for target in targets if not (page.parent / target).exists()] == []


def test_script_gives_a_new_table_a_section_and_keeps_the_prose():
    scenario_page = runpy.run_path(str(ROOT / "docs" / "tables.py"))["scenario_page"]
    written = scenario_page(
        "# Page\n\nBefore.\n\n## `[cap]`\n\nOwn words.\n\n| key | old |\n|---|---|\n| x | y |\n\nNotes.\n"
    )
    headings = [line for line in written.splitlines() if line.startswith("## ")]
    assert sum(line.count("`[") for line in headings) == len(list(specifications(ScenarioSpec))) - 1  # not the root
    cap = written.split("\n## `[cap]`\n")[1].split("\n## ")[0]
    assert (cap.startswith("\nOwn words.\n\n| key |"), cap.endswith("|\n\nNotes.\n"), "| x |" in cap) == (
        True,
        True,
        False,
    )
    assert written.startswith("# Page\n\nBefore.\n\n| key |")
    assert written.index("## `[reservoir]`") < written.index("## `[cap]`") < written.index("## `[pump]`")
    assert scenario_page(written) == written


def table_rows(page):
    """Return the numbers of every row of a page's table, by the key that it begins with."""
    rows = [line.split("|")[1:-1] for line in page.splitlines() if line.startswith("| `")]
    return {cells[0].strip(): [float(cell) for cell in cells[1:]] for cells in rows}


def checks_of(page):
    """Return what a page says of every check: what was compared, why it may deviate, who says so; and our number."""
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in page.splitlines() if line.count("|") == 7]
    return {
        cells[0]: (cells[4:], float(cells[1].split()[0])) for cells in rows if re.match(r"[-+.\de]+( |$)", cells[1])
    }


@pytest.mark.slow
def test_validation_page_is_what_its_script_writes():
    written = (ROOT / "docs" / "validation.md").read_text(encoding="utf-8")
    found = runpy.run_path(str(ROOT / "docs" / "validation.py"))["page"]()
    there, here = checks_of(written), checks_of(found)
    assert len(here) > 200
    assert here.keys() == there.keys(), "run `python docs/validation.py`"
    for check, (words, number) in here.items():
        assert words == there[check][0], f"{check}: run `python docs/validation.py`"
        # another machine rounds elsewhere, and then of several values another may be the nearest to its limit
        if not check.endswith("values)"):
            assert number == pytest.approx(there[check][1], rel=2e-3), f"{check}: run `python docs/validation.py`"
    assert [line for line in written.splitlines() if "|" not in line] == [
        line for line in found.splitlines() if "|" not in line
    ]
    assert "OUTSIDE" not in found


@pytest.mark.slow
def test_page_of_the_weakest_inputs_is_what_its_script_writes(monkeypatch):
    monkeypatch.syspath_prepend(ROOT / "docs")
    written = table_rows((ROOT / "docs" / "weakest_inputs.md").read_text(encoding="utf-8"))
    found = table_rows(runpy.run_path(str(ROOT / "docs" / "weakest_inputs.py"))["page"]())
    assert found.keys() == written.keys(), "run `python docs/weakest_inputs.py`"
    for key, numbers in found.items():
        # another machine rounds elsewhere: the last digit shown may differ by one
        assert numbers == pytest.approx(written[key], abs=0.11, rel=0.01), f"{key}: run `python docs/weakest_inputs.py`"


@pytest.mark.slow
def test_sensitivity_page_is_what_its_script_writes():
    written = table_rows((ROOT / "docs" / "sensitivity.md").read_text(encoding="utf-8"))
    found = table_rows(runpy.run_path(str(ROOT / "docs" / "sensitivity.py"))["page"]())
    assert found.keys() == written.keys(), "run `python docs/sensitivity.py`"
    for key, numbers in found.items():
        # another machine rounds elsewhere: the last digit shown may differ by one
        assert numbers == pytest.approx(written[key], abs=0.11, rel=0.11), f"{key}: run `python docs/sensitivity.py`"


@pytest.mark.export
def test_table_of_all_doors_is_what_its_script_writes():
    written = (ROOT / "docs" / "embedding.md").read_text(encoding="utf-8")
    found = runpy.run_path(str(ROOT / "docs" / "doors.py"))["page"](written)
    rows, new = (
        [[cell.strip() for cell in line.split("|")] for line in text.splitlines() if line.count("|") == 6]
        for text in (written, found)
    )
    assert len(rows) == len(new) > 8
    for row, other in zip(rows, new, strict=True):
        differences = [re.fullmatch(r"0\.\d+|\d+", cell) and cell != "0" for cell in row]
        for cell, found_cell, differs in zip(row, other, differences, strict=True):
            if differs:  # one digit of a difference between two courses of rounding: another machine has another
                assert 0.3 * float(cell) <= float(found_cell) <= 3.0 * float(cell), "run `python docs/doors.py`"
            else:
                assert cell == found_cell, "run `python docs/doors.py`"
