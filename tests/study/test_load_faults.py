"""Every fault of a study file, beside its nearest good case."""

import pytest

from study_files import CAPS, FILLS, GRID, HEAD, faults, sample, write_study
from ullage.errors import ScenarioError
from ullage.study.load import load_study

RANGE = '[[axis]]\nkey = "reservoir.fill"\nlow = 0.7\nhigh = 0.9\n'
SPEEDS = '[[axis]]\nkey = "duty.segment.0.engine_speed"\nlow = "2000 rpm"\nhigh = "4000 rpm"\n'
SAMPLING = '[sampling]\nmethod = "sobol"\nmembers = 4\n'
TRACES = '[traces]\nvariables = ["oil_temperature"]\n'
TABLE = 'table = "members.csv"\n'
PLAIN = "needs plain values: text in quotes, numbers, true or false"
STOPPED = '[change]\nduty.stop = [{name = "pit", after_lap = 1, duration = "1 min"}]\n'


def axis(key, rest):
    return f'[[axis]]\nkey = "{key}"\n{rest}\n'


# faulty text after the head of three lines; its one fault; a good text as near to it as there is
CASES = {
    "no axis": (
        SAMPLING,
        (None, "axis", 'missing: what is varied, [[axis]], or a table of members, table = "members.csv"'),
        RANGE + SAMPLING,
    ),
    "unknown key": ("colour = 1\n" + GRID, (4, "colour", "unknown key"), GRID),
    "misspelt key": (
        RANGE + SAMPLING.replace("method", "metod"),
        (9, "sampling.metod", "unknown key (did you mean 'method'?)"),
        RANGE + SAMPLING,
    ),
    "key of no scenario": (
        axis("reservoir.fil", "values = [0.8]"),
        (5, "axis.0.key", "unknown key (did you mean 'fill'?)"),
        axis("reservoir.fill", "values = [0.8]"),
    ),
    "one of the keys": (
        '[[axis]]\nkeys = ["reservoir.fill", "cap.knd"]\nvalues = [[0.8, "sealed"]]\n',
        (5, "axis.0.keys.1", "unknown key (did you mean 'kind'?)"),
        '[[axis]]\nkeys = ["reservoir.fill", "cap.kind"]\nvalues = [[0.8, "sealed"]]\n',
    ),
    "no such element": (
        axis("duty.segment.1.duration", 'values = ["1 min"]'),
        (5, "axis.0.key", 'no element "1"; there are: 0'),
        axis("duty.segment.0.duration", 'values = ["1 min"]'),
    ),
    "no key": (
        "[[axis]]\nvalues = [0.8]\n",
        (4, "axis.0", "needs `key`, or `keys` for some that change together"),
        axis("reservoir.fill", "values = [0.8]"),
    ),
    "key and keys": (
        axis("reservoir.fill", 'keys = ["cap.kind"]\nvalues = [0.8]'),
        (4, "axis.0", "needs `key`, or `keys` for some that change together"),
        axis("reservoir.fill", "values = [0.8]"),
    ),
    "key twice": (
        GRID + axis("reservoir.fill", "values = [0.8]"),
        (12, "axis.2", "varies reservoir.fill a second time"),
        GRID + axis("cap.kind", 'values = ["sealed"]'),
    ),
    "key twice in keys": (
        '[[axis]]\nkeys = ["reservoir.fill", "reservoir.fill"]\nvalues = [[0.8, 0.8]]\n',
        (4, "axis.0", "varies reservoir.fill a second time"),
        '[[axis]]\nkeys = ["reservoir.fill", "cap.kind"]\nvalues = [[0.8, "sealed"]]\n',
    ),
    "neither values nor range": (
        axis("reservoir.fill", ""),
        (4, "axis.0", "needs `values`, or `low` and `high`"),
        axis("reservoir.fill", "values = [0.8]"),
    ),
    "values and range": (
        axis("reservoir.fill", "values = [0.8]\nlow = 0.7\nhigh = 0.8"),
        (4, "axis.0", "has `values` and a range: give one of them"),
        axis("reservoir.fill", "values = [0.8]"),
    ),
    "one end": (
        axis("reservoir.fill", "low = 0.7\nsteps = 2"),
        (4, "axis.0", "a range needs `low` and `high`"),
        axis("reservoir.fill", "low = 0.7\nhigh = 0.8\nsteps = 2"),
    ),
    "range of keys": (
        '[[axis]]\nkeys = ["reservoir.fill"]\nlow = 0.7\nhigh = 0.8\nsteps = 2\n',
        (4, "axis.0", "keys that change together need `values`, a row for each"),
        axis("reservoir.fill", "low = 0.7\nhigh = 0.8\nsteps = 2"),
    ),
    "short row": (
        '[[axis]]\nkeys = ["reservoir.fill", "cap.kind"]\nvalues = [[0.8]]\n',
        (6, "axis.0.values.0", "needs 2 values, one for each of `keys`"),
        '[[axis]]\nkeys = ["reservoir.fill", "cap.kind"]\nvalues = [[0.8, "sealed"]]\n',
    ),
    "table as value": (
        axis("reservoir.fill", "values = [{ a = 1 }]"),
        (6, "axis.0.values.0", PLAIN),
        axis("reservoir.fill", "values = [0.8]"),
    ),
    "array as value": (
        axis("reservoir.fill", "values = [[0.8]]"),
        (6, "axis.0.values.0", PLAIN),
        axis("reservoir.fill", "values = [0.8]"),
    ),
    "array as end": (
        axis("reservoir.fill", "low = [0.7]\nhigh = 0.8\nsteps = 2"),
        (6, "axis.0.low", PLAIN),
        axis("reservoir.fill", "low = 0.7\nhigh = 0.8\nsteps = 2"),
    ),
    "value out of range": (
        axis("cap.relief_pressure", 'values = ["4 psi", "900 psi"]'),
        (6, "axis.0.values.1", '"900 psi" is outside 1 psi to 40 psi'),
        axis("cap.relief_pressure", 'values = ["4 psi", "40 psi"]'),
    ),
    "value that is no number": (
        axis("reservoir.fill", "values = [nan]"),
        (6, "axis.0.values.0", "nan is not a finite number"),
        axis("reservoir.fill", "values = [0.9]"),
    ),
    "wrong word": (
        axis("cap.kind", 'values = ["sealed", "open"]'),
        (6, "axis.0.values.1", "must be 'sealed' or 'vented', got \"open\""),
        axis("cap.kind", 'values = ["sealed", "vented"]'),
    ),
    "wrong value in a row": (
        '[[axis]]\nkeys = ["reservoir.fill", "cap.kind"]\nvalues = [[9, "sealed"]]\n',
        (6, "axis.0.values.0", "reservoir.fill: 9 is outside 0.3 to 0.97"),
        '[[axis]]\nkeys = ["reservoir.fill", "cap.kind"]\nvalues = [[0.9, "sealed"]]\n',
    ),
    "end out of range": (
        axis("cap.relief_pressure", 'low = "4 psi"\nhigh = "50 psi"\nsteps = 2'),
        (7, "axis.0.high", '"50 psi" is outside 1 psi to 40 psi'),
        axis("cap.relief_pressure", 'low = "4 psi"\nhigh = "40 psi"\nsteps = 2'),
    ),
    "two units": (
        axis("cap.relief_pressure", 'low = "4 psi"\nhigh = "1 bar"\nsteps = 2'),
        (4, "axis.0", '"4 psi" and "1 bar" need one unit for both ends'),
        axis("cap.relief_pressure", 'low = "0.4 bar"\nhigh = "1 bar"\nsteps = 2'),
    ),
    "ends in wrong order": (
        axis("reservoir.fill", "low = 0.9\nhigh = 0.7\nsteps = 2"),
        (4, "axis.0", "`low` is 0.9, not below `high`, 0.7"),
        axis("reservoir.fill", "low = 0.7\nhigh = 0.9\nsteps = 2"),
    ),
    "range of words": (
        axis("cap.kind", 'low = "sealed"\nhigh = "vented"\nsteps = 2'),
        (4, "axis.0", 'a range needs a number with one unit at each end, got "sealed"; else list `values`'),
        axis("cap.kind", 'values = ["sealed", "vented"]'),
    ),
    "no steps": (
        RANGE,
        (4, "axis.0", "a range in a grid needs `steps`, how many levels it has"),
        RANGE + "steps = 2\n",
    ),
    "one step": (
        RANGE + "steps = 1\n",
        (8, "axis.0.steps", "must be a whole number from 2 to 5000, got 1"),
        RANGE + "steps = 2\n",
    ),
    "a billion steps": (
        RANGE + "steps = 1_000_000_000\n",
        (8, "axis.0.steps", "must be a whole number from 2 to 5000, got 1000000000"),
        RANGE + "steps = 5000\n",
    ),
    "steps of a sample": (
        RANGE + "steps = 3\n" + SAMPLING,
        (8, "axis.0.steps", "3 counts the levels of a range in a grid; it has no meaning here"),
        RANGE + SAMPLING,
    ),
    "distribution in a grid": (
        RANGE + 'steps = 3\ndistribution = "normal"\n',
        (9, "axis.0.distribution", '"normal" needs a sample: [sampling] method = "sobol"'),
        RANGE + 'steps = 3\ndistribution = "log uniform"\n',
    ),
    "distribution of values": (
        CAPS + 'distribution = "normal"\n' + SAMPLING,
        (7, "axis.0.distribution", '"normal" belongs to a range; listed values are equally likely'),
        CAPS + SAMPLING,
    ),
    "misspelt distribution": (
        RANGE + 'distribution = "nromal"\n' + SAMPLING,
        (
            8,
            "axis.0.distribution",
            "must be 'uniform', 'log uniform', 'normal', 'lognormal' or 'triangular', got \"nromal\" "
            "(did you mean 'normal'?)",
        ),
        RANGE + 'distribution = "triangular"\n' + SAMPLING,
    ),
    # 0.84 + 3 * 0.09 / 1.959964: three standard deviations
    "spread out of range": (
        axis("reservoir.fill", 'distribution = "normal"\nlow = 0.75\nhigh = 0.93') + SAMPLING,
        (
            4,
            "axis.0",
            "its normal spread reaches too far, bring `low` and `high` together: "
            '"0.97775763337" is outside 0.3 to 0.97',
        ),
        axis("reservoir.fill", 'distribution = "normal"\nlow = 0.75\nhigh = 0.92') + SAMPLING,
    ),
    "misspelt method": (
        RANGE + SAMPLING.replace("sobol", "sobel"),
        (
            9,
            "sampling.method",
            "must be 'grid', 'random', 'latin hypercube' or 'sobol', got \"sobel\" (did you mean 'sobol'?)",
        ),
        RANGE + SAMPLING,
    ),
    "sample without a size": (
        RANGE + '[sampling]\nmethod = "random"\n',
        (8, "sampling.members", "missing: how many members the sample has"),
        RANGE + '[sampling]\nmethod = "random"\nmembers = 1\n',
    ),
    "size of a grid": (
        GRID + "[sampling]\nmembers = 4\n",
        (13, "sampling.members", "4 is that of a sample; a grid has every combination"),
        GRID + "[sampling]\nseed = 4\n",
    ),
    "no members": (
        RANGE + SAMPLING.replace("4", "0"),
        (10, "sampling.members", "must be a whole number from 1 to 100000000, got 0"),
        RANGE + SAMPLING.replace("4", "1"),
    ),
    "too many members": (
        RANGE + SAMPLING.replace("4", "100_000_001"),
        (10, "sampling.members", "must be a whole number from 1 to 100000000, got 100000001"),
        RANGE + SAMPLING.replace("4", "1000_000"),
    ),
    "large hypercube": (
        RANGE + SAMPLING.replace("sobol", "latin hypercube").replace("4", "2_000_001"),
        (10, "sampling.members", '2000001 is over 2000000, and a hypercube is drawn as a whole: take method = "sobol"'),
        RANGE + SAMPLING.replace("4", "2_000_001"),
    ),
    "seed below zero": (
        RANGE + SAMPLING + "seed = -1\n",
        (11, "sampling.seed", "must be a whole number from 0, got -1"),
        RANGE + SAMPLING + "seed = 0\n",
    ),
    "table and axes": (
        TABLE + GRID,
        (4, "table", '"members.csv" stands beside [[axis]]: a study has one or the other'),
        TABLE,
    ),
    "sampling of a table": (TABLE + SAMPLING, (5, "sampling", "has no meaning beside a table of members"), TABLE),
    "unknown variable": (
        GRID + TRACES.replace("tempera", "tempra"),
        (13, "traces.variables.0", "\"oil_temprature\" is no variable of a run (did you mean 'oil_temperature'?)"),
        GRID + TRACES,
    ),
    "no variables": (
        GRID + '[traces]\ninterval = "60 s"\n',
        (12, "traces.variables", "missing: an array, [...]"),
        GRID + TRACES + 'interval = "60 s"\n',
    ),
    "interval without unit": (
        GRID + TRACES + "interval = 60\n",
        (14, "traces.interval", '60 has no unit; a time is wanted, such as "90 s" or "2 h 31 min"'),
        GRID + TRACES + 'interval = "90 s"\n',
    ),
    "traced member below zero": (
        GRID + TRACES + "members = [-1]\n",
        (14, "traces.members.0", "-1 must be a member's number, from 0"),
        GRID + TRACES + "members = [0]\n",
    ),
    "traced member beyond the last": (
        GRID + TRACES + "members = [0, 9]\n",
        (14, "traces.members.1", "there is no member 9: they are 0 to 8"),
        GRID + TRACES + "members = [0, 8]\n",
    ),
    "traced member that is no number": (
        GRID + TRACES + 'members = ["a"]\n',
        (14, "traces.members.0", 'must be a whole number, got "a"'),
        GRID + TRACES + "members = [0]\n",
    ),
    "traces of no member": (
        GRID + TRACES + "members = []\n",
        (14, "traces.members", "is empty: leave it out to trace all members"),
        GRID + TRACES + "members = [0]\n",
    ),
    "traces of nothing": (
        GRID + "[traces]\nvariables = []\n",
        (13, "traces.variables", 'is empty: name what is traced, such as "oil_temperature"'),
        GRID + TRACES,
    ),
    "too many whole numbers": (
        axis("duty.seed", "low = 1\nhigh = 30_000_000"),
        (4, "axis.0", "has more than 5000 whole numbers: give `steps`, or a narrower range"),
        axis("duty.seed", "low = 1\nhigh = 2"),
    ),
    "too large a whole number": (
        axis("duty.seed", "values = [9223372036854775808]"),
        (6, "axis.0.values.0", "is too large a whole number for the results"),
        axis("duty.seed", "values = [9223372036854775807]"),
    ),
    "too large an end": (
        axis("duty.seed", f"low = 0\nhigh = 1{'0' * 400}\nsteps = 2"),
        (7, "axis.0.high", "is too large a whole number for the results"),
        axis("duty.seed", "low = 0\nhigh = 1000\nsteps = 2"),
    ),
    "one place by two names": (
        STOPPED
        + axis("duty.stop.0.duration", 'values = ["1 min"]')
        + axis("duty.stop.pit.duration", 'values = ["2 min"]'),
        (6, "axis", "varies one thing by two names, duty.stop.0.duration and duty.stop.pit.duration"),
        STOPPED + axis("duty.stop.0.duration", 'values = ["1 min"]') + axis("duty.stop.pit.engine", 'values = ["off"]'),
    ),
    "gauge beside absolute": (
        axis("pump.minimum_inlet_pressure", 'values = ["55 kPaa", "-5 psig"]'),
        (4, "axis", "pump.minimum_inlet_pressure mixes gauge and absolute levels: write all of them as one kind"),
        axis("pump.minimum_inlet_pressure", 'values = ["55 kPaa", "60 kPaa"]'),
    ),
    "traces beyond all bounds": (
        sample(RANGE, 4_000_000) + TRACES + 'interval = "1 s"\n',
        (
            13,
            "traces",
            "4,000,000 members, 4 courses and 121 times come to 15.5 GB: "
            "trace fewer `members` or `variables`, or take a longer `interval`",
        ),
        sample(RANGE, 4) + TRACES + 'interval = "1 s"\n',
    ),
    "change that is not accepted": (
        '[change]\n"reservoir.fill" = 9\n' + CAPS,
        (5, "change.reservoir.fill", "9 is outside 0.3 to 0.97"),
        '[change]\n"reservoir.fill" = 0.9\n' + CAPS,
    ),
    "change of no key": (
        "[change]\ncap.knd = 1\n" + FILLS,
        (5, "change.cap.knd", "unknown key (did you mean 'kind'?)"),
        '[change]\ncap.kind = "vented"\n' + FILLS,
    ),
    "change against a rule": (
        "[change]\nduty.segment = []\n" + FILLS,
        (5, "change.duty.segment", "missing: a lap needs segments, or a recording in their place"),
        '[change]\nduty.segment.0.duration = "1 min"\n' + FILLS,
    ),
    "control character": (
        axis("cap.kind", 'values = ["sea\\u001b[2Jled"]'),
        (6, "axis.0.values.0", '"sea\\x1b[2Jled" holds a control character, U+001B: write one plain line'),
        axis("cap.kind", 'values = ["sealed"]'),
    ),
    "a million values": (
        axis("reservoir.fill", f"values = [{'0.8,' * 10**6}]"),
        (6, "axis.0.values", "has more than 5000 elements"),
        axis("reservoir.fill", f"values = [{'0.8,' * 5000}]"),
    ),
    "nested": (
        axis("reservoir.fill", f"values = {'[' * 5000}{']' * 5000}"),
        (4, "axis.0", "is nested more than 20 deep"),
        axis("reservoir.fill", "values = [0.8]"),
    ),
    "one table as axis": (
        '[axis]\nkey = "reservoir.fill"\nvalues = [0.8]\n',
        (4, "axis", "must be an array of tables, [[axis]], got a table"),
        axis("reservoir.fill", "values = [0.8]"),
    ),
}


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "members.csv").write_text("reservoir.fill\n0.8\n")
    return tmp_path


@pytest.mark.parametrize("name", CASES)
def test_a_fault_is_named_with_its_line_and_the_nearest_good_file_has_none(folder, name):
    faulty, fault, good = CASES[name]
    assert faults(write_study(folder, faulty)) == [fault]
    assert faults(write_study(folder, good)) == []


@pytest.mark.parametrize(
    ("head", "fault"),
    [
        (HEAD.replace("format = 1\n", ""), (None, "format", "missing: the number 1")),
        (HEAD.replace("1", "2"), (1, "format", "must be the number 1, got 2")),
        (HEAD.replace("title = ", "#"), (None, "title", "missing: text in quotes")),
        (HEAD.replace('"truck.toml"', "3"), (3, "scenario", "must be text in quotes, got 3")),
        (HEAD.replace("truck.toml", "none.toml"), (None, "", "cannot be read: no such file or directory")),
        (HEAD + "change = 3\n", (4, "change", "must be a table, [change], got 3")),
    ],
)
def test_a_fault_of_the_head_is_named(tmp_path, head, fault):
    assert faults(write_study(tmp_path, GRID, head=head)) == [fault]


def test_all_faults_are_told_at_once_in_the_order_of_their_lines(tmp_path):
    text = (
        'colour = 1\n[change]\n[[axis]]\nkey = "reservoir.fill"\nvalues = []\n[[axis]]\nkey = "a.b"\nlow = 1\n'
        '[sampling]\nmethod = "sobl"\n[traces]\nvariables = ["x"]\n'
    )
    found = [(line, key) for line, key, _ in faults(write_study(tmp_path, text))]
    expected = [(4, "colour"), (6, "axis.0"), (9, "axis.1"), (13, "sampling.method"), (15, "traces.variables.0")]
    assert found == expected


def test_faults_between_keys_hide_none_of_the_values(tmp_path):
    text = (
        "[change]\nduty.lap = 2\n"
        + axis("reservoir.fill", "values = []")
        + axis("cap.relief_pressure", 'values = ["90 psi"]')
    )
    assert [(line, key) for line, key, _ in faults(write_study(tmp_path, text))] == [
        (5, "change.duty.lap"),
        (6, "axis.0"),
        (11, "axis.1.values.0"),
    ]


def test_faults_of_all_axes_are_told_at_once(tmp_path):
    text = (
        axis("reservoir.fil", "values = [1]")
        + axis("cap.relief_pressure", 'low = "1 psi"\nhigh = "2 bar"\nsteps = 2')
        + axis("cap.kind", 'values = ["x", "sealed", "y"]')
    )
    found = [key for _, key, _ in faults(write_study(tmp_path, text))]
    assert found == ["axis.0.key", "axis.1", "axis.2.values.0", "axis.2.values.2"]


def test_faults_of_changes_name_the_study_and_those_of_the_scenario_the_scenario(tmp_path):
    file = write_study(tmp_path, '[change]\n"reservoir.fill" = 9\ncap.relief_pressure = "4 litres"\n' + FILLS)
    with pytest.raises(ScenarioError) as caught:
        load_study(file)
    assert [(fault.file, fault.line) for fault in caught.value.faults] == [(str(file), 5), (str(file), 6)]
    write_study(tmp_path)
    scenario = tmp_path / "truck.toml"
    scenario.write_text(scenario.read_text().replace("fill = 0.8", "fill = 9"))
    with pytest.raises(ScenarioError, match=r"truck.toml:[0-9]+: reservoir.fill: 9 is outside"):
        load_study(file)


def test_faults_of_a_table_name_the_table_and_the_line(tmp_path):
    file = write_study(tmp_path, TABLE)
    (tmp_path / "members.csv").write_text("reservoir.fill,cap.kind\n0.8,sealed\n\n9,open\n0.8,Sealed\n")
    with pytest.raises(ScenarioError) as caught:
        load_study(file)
    assert {fault.file for fault in caught.value.faults} == {str(tmp_path / "members.csv")}
    assert faults(file) == [
        (4, "reservoir.fill", '"9" is outside 0.3 to 0.97'),
        (4, "cap.kind", "must be 'sealed' or 'vented', got \"open\""),
        (5, "cap.kind", "must be 'sealed' or 'vented', got \"Sealed\" (did you mean 'sealed'?)"),
    ]
    (tmp_path / "members.csv").write_text("reservoir.fil,cap.kind\n0.8,sealed\n")
    assert faults(file) == [(None, "reservoir.fil", "unknown key (did you mean 'fill'?)")]
    (tmp_path / "members.csv").write_text("duty.laps\n1\n1.5\n")
    assert faults(file) == [(3, "duty.laps", 'must be a whole number from 1 to 1000, without quotes, got "1.5"')]
    (tmp_path / "members.csv").unlink()
    assert [text for _, _, text in faults(file)] == ["cannot be read: no such file or directory"]
