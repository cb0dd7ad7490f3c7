"""The reference pages name everything that there is."""

from pathlib import Path

import pytest
from pydantic import BaseModel

from ullage.api import simulate
from ullage.errors import ScenarioError
from ullage.results.summary import summary_text
from ullage.results.variables import CAP_STATES, COORDINATES, EVENT_VARIABLES, VARIABLES
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.fields import nested_spec, quantity_of
from ullage.scenario.load import Scenario, load_scenario

ROOT = Path(__file__).parent.parent


def specifications(model: type[BaseModel], name=""):
    """Go through a specification and everything inside it, with dotted names."""
    yield name, model
    for field in model.model_fields:
        if inner := nested_spec(model, field):
            yield from specifications(inner, f"{name}.{field}".lstrip("."))


@pytest.mark.parametrize(("table", "model"), list(specifications(ScenarioSpec)))
def test_scenario_page_has_every_key_with_its_range_and_default(table, model):
    text = (ROOT / "docs" / "scenario.md").read_text()
    section = text if not table else text.split(f"{table}]")[1].split("\n## ")[0]
    for name in model.model_fields:
        if nested_spec(model, name):
            continue
        rows = [line for line in section.splitlines() if line.startswith(f"| `{name}` |")]
        assert rows, f"{table}.{name} is missing"
        if quantity := quantity_of(model, name):
            assert f"{quantity.low} to {quantity.high}" in rows[0]
            assert quantity.default is None or quantity.default in rows[0]
            assert ("(weak)" in rows[0]) == quantity.weak


def test_wrong_file_of_the_scenario_page_gives_the_faults_shown_there():
    section = (ROOT / "docs" / "scenario.md").read_text().split("## Faults")[1]
    text, shown = (section.split(f"```{kind}\n")[1].split("```")[0] for kind in ("toml", "text"))
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_toml(text, "wrong.toml")
    assert f"{caught.value}\n" == shown


@pytest.mark.parametrize("name", [*VARIABLES, *EVENT_VARIABLES, *COORDINATES])
def test_results_page_has_every_variable_with_its_unit(name):
    text = (ROOT / "docs" / "results.md").read_text()
    row = next(line for line in text.splitlines() if line.startswith(f"| `{name}` |"))
    units = {**VARIABLES, **EVENT_VARIABLES, **COORDINATES}[name].units
    assert units in row


def test_results_page_has_every_cap_state():
    text = (ROOT / "docs" / "results.md").read_text()
    assert all(f"`{state}`" in text for state in CAP_STATES)


def test_python_example_of_the_readme_runs(tmp_path, monkeypatch):
    text = (ROOT / "README.md").read_text()
    lines = text.splitlines()
    assert lines.index("```python") < 35
    example = text.split("```python\n")[1].split("```")[0]
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    monkeypatch.chdir(tmp_path)
    exec(example, {})
    assert (tmp_path / "run.nc").is_file()


def test_printed_result_of_the_readme_is_what_the_demo_prints():
    shown = (ROOT / "README.md").read_text().split("invented course:\n\n")[1].split("\n\n")[0]
    printed = summary_text(simulate(load_scenario(ROOT / "scenarios" / "ironwood.toml")), "us")
    # all but the balances, which are rounding and differ between machines
    assert [line.strip() for line in shown.splitlines()[:-1]] == [line.strip() for line in printed.splitlines()[:-1]]
