"""`ullage pit` prints what choices at a stop cost, writes what a crew takes along, and says what it cannot do."""

import json

import pytest

from support import truck
from ullage.cautions import SHORT_CAUTION
from ullage.results.store import open_results

RACE = {
    "duty.segment": [
        {"duration": "10 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "60 bar"}
    ],
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "3 min"}],
    "start.temperature": "25 degC",
}
WRITTEN = ["pit.json", "pit.nc", "pit.png", "pit_card.pdf", "pit_card.png"]


@pytest.fixture
def race(file, tmp_path):
    (tmp_path / file).write_text(truck(RACE).to_toml(), encoding="utf-8")
    return file


def test_pit_prints_the_choices_and_the_caution_last(command, race):
    code, output, errors = command("pit", race)
    assert (code, errors) == (0, "")
    lines = output.splitlines()
    assert lines[0] == "test truck (invented data)"
    assert [line.split()[0] for line in lines if line.startswith(("shut ", "refit ", "recharge "))]
    assert lines[-1] == SHORT_CAUTION


def test_pit_writes_the_figures_the_picture_and_the_card(command, race, tmp_path):
    code, output, _ = command("pit", race, "--out", "kept")
    assert code == 0
    assert "written to kept: pit.nc, pit.json, pit.png, pit_card.pdf, pit_card.png\n" in output
    assert sorted(path.name for path in (tmp_path / "kept").iterdir()) == WRITTEN
    data = open_results(tmp_path / "kept" / "pit.nc")
    figures = json.loads((tmp_path / "kept" / "pit.json").read_text(encoding="utf-8"))
    refit = figures["choices"]["refit"]["stint_feed_gauge_pressure"]
    assert refit == float(data.stint_feed_gauge_pressure.sel(choice="refit"))
    assert (tmp_path / "kept" / "pit_card.pdf").read_bytes().startswith(b"%PDF")


def test_pit_prints_json_on_request_and_nothing_when_quiet(command, race):
    found = json.loads(command("pit", race, "--json")[1])
    assert found["stop"] == "pit"
    assert found["choices"]["shut"]["finish_delay"] == 0.0
    assert command("pit", race, "--quiet") == (0, "", "")


def test_pit_takes_stop_opening_and_units(command, race):
    output = command("pit", race, "--stop", "4 min", "--open-for", "2 min", "--units", "us")[1]
    assert "'stop at 0:04:00' at 0:04:00, 5 min" in output
    assert "psi" in output
    assert "kPa" not in output


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--stop", "pti"], "did you mean 'pit'"),
        (["--stop", "5 h"], "0:23:00"),
        (["--open-for", "60"], "no unit"),
        (["--open-for", "1 s"], "outside 5 s"),
        (["--out", ""], "is empty"),
        (["--set", "pit.open_bellow=50 degC"], "open_below"),
    ],
)
def test_what_pit_cannot_do_is_said(command, race, arguments, words):
    code, output, errors = command("pit", race, *arguments)
    assert (code, output) == (2, "")
    assert words in errors


def test_a_race_without_a_stop_says_how_to_get_one(command, file):
    code, _, errors = command("pit", file)
    assert code == 2
    assert "add a [[duty.stop]]" in errors
    assert command("pit", file, "--stop", "5 min")[0] == 0
