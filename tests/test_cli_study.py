"""`ullage study` and `ullage check` of a study: exit codes, sentences, and one result whichever way it is made."""

import io
import json

import pytest

import ullage.study.gather
import ullage.study.run
from study_files import BOILING, GRID, MIXED, sample, write_study
from ullage.cautions import SHORT_CAUTION
from ullage.results.store import open_results

MORE = GRID.replace("steps = 3", "steps = 11")  # 33 members: three shards


@pytest.fixture
def asked(tmp_path, monkeypatch):
    """Return the file of a study of nine members, in the working folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("ULLAGE_DEBUG", raising=False)
    write_study(tmp_path)
    return "study.toml"


def test_study_prints_what_it_found_and_writes_it(command, asked, tmp_path):
    code, output, errors = command("study", asked, "--out", "out", "--workers", "1")
    assert (code, errors) == (0, "")
    assert output.startswith("study of a test (invented data)\n9 races done, 0 not finished\n")
    assert output.endswith(f"written to {tmp_path / 'out'}: study.nc, study.json, map.png\n{SHORT_CAUTION}\n")
    files = ["ledger.json", "map.png", "shards", "study.json", "study.nc"]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == files
    assert open_results("out").sizes["member"] == 9
    before = (tmp_path / "out" / "study.nc").stat().st_mtime_ns
    assert command("study", asked, "--out", "out") == (0, output, "")  # what is finished is told again
    assert (tmp_path / "out" / "study.nc").stat().st_mtime_ns == before


def test_study_prints_json_alone_or_nothing(command, asked, tmp_path):
    code, output, errors = command("study", asked, "--out", "out", "--json")
    assert (code, errors) == (0, "")
    assert json.loads(output) == json.loads((tmp_path / "out" / "study.json").read_text())
    assert json.loads(output)["statuses"] == {"done": 9}
    assert command("study", asked, "--out", "out", "--quiet") == (0, "", "")


def test_parts_gathered_are_a_plain_run(command, asked, tmp_path):
    write_study(tmp_path, MORE)
    for part, done in (("2/2", 1), ("1/2", 3)):
        code, output, errors = command("study", asked, "--out", "parts", "--shard", part)
        assert (code, errors) == (0, "")
        lines = output.splitlines()
        assert lines[0] == f"{tmp_path / 'parts'}: {done} of 3 shards are done"
        assert lines[1:] == (["all are there: --gather makes them one"] if done == 3 else [])
        assert not (tmp_path / "parts" / "study.nc").exists()
    assert command("study", asked, "--out", "parts", "--gather", "--quiet") == (0, "", "")
    assert command("study", asked, "--out", "plain", "--quiet") == (0, "", "")
    assert open_results("parts").identical(open_results("plain"))


def test_a_part_of_more_parts_than_shards_has_nothing_to_do(command, asked):
    code, output, _ = command("study", asked, "--out", "out", "--shard", "5/7")
    assert (code, output.splitlines()[0].split(": ")[1]) == (0, "0 of 1 shards are done")


def test_a_part_done_twice_is_not_marched_again(command, asked, monkeypatch):
    assert command("study", asked, "--out", "out", "--shard", "1/1", "--quiet") == (0, "", "")
    monkeypatch.setattr(ullage.study.run, "do_shard", None)
    assert command("study", asked, "--out", "out", "--shard", "1/1", "--quiet") == (0, "", "")


def test_gathering_what_is_not_done_says_what_is_missing(command, asked, tmp_path):
    write_study(tmp_path, MORE)
    command("study", asked, "--out", "out", "--shard", "2/3")
    code, output, errors = command("study", asked, "--out", "out", "--gather")
    text = f"{tmp_path / 'out'}: 1 of 3 shards are done, numbers 0, 2 (from 0) are missing: go on with --resume\n"
    assert (code, output, errors) == (1, "", text)


def test_a_part_goes_on_only_when_asked_to(command, asked, tmp_path):
    write_study(tmp_path, MORE)
    command("study", asked, "--out", "out", "--shard", "2/3")
    code, output, errors = command("study", asked, "--out", "out")
    text = f"{tmp_path / 'out'}: 1 of 3 shards are done: add --resume to go on, or take another directory\n"
    assert (code, output, errors) == (1, "", text)
    assert command("study", asked, "--out", "out", "--resume", "--quiet") == (0, "", "")


@pytest.mark.parametrize(
    "part", ["0/2", "3/2", "1", "1/0", "a/b", "-1/2", "1/2/3", "1.0/2", "", "1/9999999999", "\u0661/\u0662"]
)
def test_a_part_that_is_none_is_refused_before_anything_is_made(command, asked, tmp_path, part):
    code, output, errors = command("study", asked, "--out", "out", "--shard", part)
    assert (code, output) == (2, "")
    assert f"--shard: '{part}' is not I/N, with I from 1 to N, such as 3/40" in errors
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    "options",
    [
        ["--gather", "--shard", "1/2"],
        ["--gather", "--workers", "2"],
        ["--workers", "2", "--scheduler", "tcp://127.0.0.1:1"],
    ],
)
def test_options_that_exclude_each_other_are_refused(command, asked, tmp_path, options):
    code, output, errors = command("study", asked, "--out", "out", *options)
    assert (code, output) == (2, "")
    assert "exclude each other" in errors
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("options", "text"), [([], "Missing option '--out'"), (["--out", ""], "--out: the name of the folder is empty"),
                          (["--out", "out", "--workers", "0"], "0 is not in the range x>=1")]
)  # fmt: skip
def test_a_folder_and_a_number_of_threads_are_wanted(command, asked, options, text):
    code, output, errors = command("study", asked, *options)
    assert (code, output) == (2, "")
    assert text in errors


def test_another_study_in_the_folder_is_refused(command, asked):
    command("study", asked, "--out", "out", "--quiet")
    code, output, errors = command("study", asked, "--out", "out", "--set", "cap.kind=vented")
    assert (code, output) == (1, "")
    assert errors.startswith('out: holds another study, "study of a test (invented data)", or this one before it was')
    assert errors.count("\n") == 1


def test_a_value_set_is_laid_over_the_scenario(command, asked):
    assert command("study", asked, "--out", "out", "--set", "duty.laps=2", "--quiet") == (0, "", "")
    assert "laps = 2" in open_results("out").attrs["scenario_toml"]


def test_faults_are_listed_or_printed_as_json(command, asked, tmp_path):
    code, output, errors = command("study", asked, "--out", "out", "--set", "reservoir.fil=0.8")
    assert (code, output, errors) == (2, "", "--set reservoir.fil: unknown key (did you mean 'fill'?)\n")
    write_study(tmp_path, GRID.replace("steps = 3", "steps = 1") + "colour = 1\n")
    for arguments in (("study", asked, "--out", "out"), ("check", asked)):
        code, output, errors = command(*arguments)
        assert (code, output) == (2, "")
        assert errors.splitlines() == [
            "study.toml:11: axis.1.steps: must be a whole number from 2 to 5000, got 1",
            "study.toml:12: axis.1.colour: unknown key",
        ]
        code, output, errors = command(*arguments, "--json")
        assert (code, errors) == (2, "")
        assert [fault["line"] for fault in json.loads(output)["faults"]] == [11, 12]
    assert not (tmp_path / "out").exists()


def test_a_study_is_read_from_standard_input(command, asked, tmp_path, monkeypatch):
    raw = (tmp_path / asked).read_bytes()
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(raw)))
    assert command("study", "-", "--out", "out", "--quiet") == (0, "", "")
    assert command("study", asked, "--out", "out", "--quiet") == (0, "", "")  # it is the same study
    assert open_results("out").sizes["member"] == 9


def test_a_study_is_no_scenario_and_a_scenario_no_study(command, asked):
    text = "study.toml: is a study, not a scenario: ullage study runs it, ullage check describes it\n"
    for name in ("run", "pit"):
        assert command(name, asked) == (2, "", text)
    text = "truck.toml: is a scenario, not a study: ullage run simulates it; a study file names its `scenario`\n"
    assert command("study", "truck.toml", "--out", "out") == (2, "", text)


def test_an_interrupt_says_what_stays(command, asked, tmp_path, monkeypatch):
    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(ullage.study.gather, "gather", interrupted)
    code, output, errors = command("study", asked, "--out", "out")
    assert (code, output) == (130, "")
    assert errors == "interrupted: 1 of 1 shards are done and stay: go on with --resume\n"
    monkeypatch.undo()
    monkeypatch.chdir(tmp_path)
    assert command("study", asked, "--out", "out", "--quiet")[0] == 0


def test_members_that_fail_are_counted_and_are_no_failure_of_the_study(command, asked, tmp_path):
    write_study(tmp_path, MIXED, BOILING)
    code, output, errors = command("study", asked, "--out", "out")
    assert (code, errors) == (0, "")
    assert "2 races done, 4 not finished" in output
    assert "2 of these: reservoir.fill: 0.95 leaves no air space" in output
    found = json.loads((tmp_path / "out" / "study.json").read_text())["statuses"]
    gone, refused = "the reservoir has run out of oil", "refused by the checks of a scenario"
    assert found == {"done": 2, gone: 2, refused: 2}


def test_check_describes_a_study(command, asked, tmp_path):
    text = sample('[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.9\n', 12)
    write_study(tmp_path, text)
    code, output, errors = command("check", asked)
    assert (code, errors) == (0, "")
    assert "12 members (sobol, seed 1) over 1 duty cycle\n" in output
    assert max(map(len, output.splitlines())) <= 100
    assert command("check", asked, "--quiet") == (0, "", "")
    code, output, errors = command("check", asked, "--json")
    assert (code, errors) == (0, "")
    found = json.loads(output)
    assert (found["faults"], found["members"], found["keys"]) == ([], 12, ["reservoir.fill"])
    assert not (tmp_path / "out").exists()


def test_what_cannot_be_drawn_is_said_and_fails_nothing(command, asked, tmp_path):
    write_study(tmp_path, GRID.split("[[axis]]")[1].join(["[[axis]]", ""]))
    code, output, errors = command("study", asked, "--out", "one")
    assert (code, errors) == (0, "")
    assert "no map.png: a map needs" in output


def test_gathering_where_nothing_is_makes_nothing(command, asked, tmp_path):
    code, _, errors = command("study", asked, "--out", "mistyped", "--gather")
    assert (code, errors.startswith("mistyped: holds no study")) == (1, True)
    assert not (tmp_path / "mistyped").exists()


def test_a_study_of_which_no_race_is_finished_fails(command, asked, tmp_path):
    fan = {
        "cooler.fan_air_speed": "3 m/s",
        "cooler.fan_on_temperature": "80 degC",
        "cooler.fan_off_temperature": "75 degC",
    }
    write_study(tmp_path, '[[axis]]\nkey = "cooler.fan_on_temperature"\nvalues = ["20 degC", "30 degC"]\n', fan)
    code, output, errors = command("study", asked, "--out", "out")
    assert (code, errors) == (1, "")
    assert "0 races done, 2 not finished" in output


def test_what_is_varied_cannot_be_set(command, asked):
    code, output, errors = command("study", asked, "--out", "out", "--set", "reservoir.fill=0.8")
    assert (code, output, errors) == (2, "", "--set reservoir.fill: is varied by the study, so it cannot be set\n")


def test_a_cap_that_is_taken_off_is_warned_of(command, asked, tmp_path):
    write_study(
        tmp_path,
        '[[axis]]\nkey = "event.0.time"\nvalues = ["20 s", "60 s"]\n',
        {"event": [{"action": "cap off", "time": "5 s"}]},
    )
    code, output, errors = command("study", asked, "--out", "out")
    assert (code, errors) == (0, "")
    assert output.startswith("warning: in 2 of 2 the cap is taken off; how hot the oil is then a study does not judge")


def test_python_is_told_what_a_study_is(tmp_path):
    with pytest.raises(TypeError, match=r"'study\.toml' is no study: ul\.load_study reads one from a file"):
        ullage.study.run.run_study("study.toml", tmp_path)


def test_a_study_that_is_no_proper_toml_or_names_a_study_is_told_as_a_study(command, asked, tmp_path):
    (tmp_path / "open.toml").write_text((tmp_path / asked).read_text() + 'table = "members.csv')
    assert "closing quote" in command("check", "open.toml")[2]
    (tmp_path / "self.toml").write_text((tmp_path / asked).read_text().replace("truck.toml", "self.toml"))
    text = "self.toml:3: scenario: names a study; the scenario from which it differs is wanted\n"
    assert command("check", "self.toml") == (2, "", text)
