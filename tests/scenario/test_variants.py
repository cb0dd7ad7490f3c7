import math
import random
import typing
from pathlib import Path

import numpy as np
import pytest

from support import SCENARIOS, truck
from ullage.errors import ScenarioError
from ullage.scenario.fields import Spec, nested_spec, quantity_of
from ullage.scenario.limits import places_of
from ullage.scenario.load import load_scenario
from ullage.scenario.parameters import make_parameters
from ullage.scenario.variants import Variants
from ullage.units import KINDS

FOLDER = Path(__file__).parent.parent.parent / "scenarios"
STOP = {"name": "pit", "after_lap": 1, "duration": "6 min"}
EVENTS = [
    {"action": "cap off", "stop": "pit", "after": "1 min"},
    {"action": "top-up", "stop": "pit", "after": "2 min", "volume": "0.2 L"},
    {"action": "cap on", "stop": "pit", "after": "3 min"},
    {"action": "recharge", "stop": "pit", "after": "4 min", "pressure": "8 psig"},
    {"action": "fault on", "fault": "lost oil", "time": "7 min", "volume": "0.5 L"},
]
CHOICE = {"name": "look", "stop_duration": "5 min", "event": [{"action": "cap off", "after": "2 min"}]}
POINT = {"speed": "1500 rpm", "pressure": "50 bar", "flow": "35 L/min", "viscosity": "30 mm2/s"}
BUSY = {
    "duty.laps": 2,
    "duty.stop": [STOP],
    "event": EVENTS,
    "pit.choice": [CHOICE],
    "weather.point": [{"time": "0 h", "temperature": "30 degC"}, {"time": "1 h", "temperature": "35 degC"}],
    "pump.flow_point": POINT,
    "cooler.fan_air_speed": "3 m/s",
    "start.headspace_pressure": "5 psig",
}
PLAN = {
    "duty.laps": 3,
    "duty.seed": 4,
    "duty.gear": [
        {"vehicle_speed": "40 km/h", "engine_speed": "6000 rpm"},
        {"vehicle_speed": "80 km/h", "engine_speed": "6000 rpm"},
    ],
    "duty.segment": [
        {"name": "whoops", "length": "6 km", "surface": "whoops", "steering": "heavy", "lock_holds": 3}
        | {"vehicle_speed_low": "40 km/h", "vehicle_speed_high": "70 km/h"}
        | {"engine_speed_low": "2500 rpm", "engine_speed_high": "5500 rpm"},
        {"name": "queue", "duration": "3 min", "duration_spread": "40 s", "engine_speed": "900 rpm", "last_lap": 2},
    ],
    "duty.change": [{"segment": "whoops", "first_lap": 2, "vehicle_speed_factor": 0.8, "steering_load_factor": 1.2}],
    "duty.stop": [{**STOP, "duration_spread": "30 s"}],
    "weather.point": [{"lap": 1, "temperature": "18 degC"}, {"lap": 3, "temperature": "36 degC"}],
    "event": EVENTS[:3],
}
BASES = {path.stem: load_scenario(path) for path in SCENARIOS} | {"busy": truck(BUSY), "plan": truck(PLAN)}


def fields_of(spec, prefix=""):
    """Go through all keys of a scenario, given or not, each with the specification in which it is declared."""
    for name in type(spec).model_fields:
        value, inner = getattr(spec, name), nested_spec(type(spec), name)
        if isinstance(value, Spec):
            yield from fields_of(value, f"{prefix}{name}.")
        elif inner and isinstance(value, tuple):
            for place, item in enumerate(value):
                yield from fields_of(item, f"{prefix}{name}.{getattr(item, 'name', '') or place}.")
        elif inner:
            yield from ((f"{prefix}{name}.{each}", inner) for each in inner.model_fields)
        else:
            yield prefix + name, type(spec)


def any_value(draw, model, name):
    """Return a value for a key, accepted or not; most lie in its range, where only rules between keys can refuse it."""
    kind = quantity_of(model, name)
    if draw.random() < 0.05:
        return draw.choice(["", "5 parsec", "0.5", 1.0, True, 0, -0.0, 1, "kinetic", float("nan")])
    if kind is None:
        choices = [word for word in _words(model.model_fields[name].annotation) if isinstance(word, str)]
        return draw.choice(choices or [1, 2, 3, "pit", "look"])
    low, high = kind.limits()
    number = draw.choice([low, high, low + draw.random() * (high - low), high + 0.1 * (high - low)])
    if kind.kind == "number":
        return number
    return f"{number!r} {KINDS[kind.kind].unit}{' gauge' if kind.kind == 'pressure level' else ''}"


def _words(annotation):
    found = typing.get_args(annotation)
    return [word for part in found for word in (_words(part) or [part])]


def replaced(base, keys, values, name=""):
    """Return the specification of a variant, made the long way."""
    return base.replace(dict(zip(keys, values, strict=True)), bare_numbers=False, name=name).spec


def outcome(make, *arguments):
    """Return all that a specification is, to the last bit and with which keys were given, or all its faults."""
    try:
        spec = make(*arguments)
    except ScenarioError as error:
        return error.faults
    return spec, repr(spec), [*_given(spec)], make_parameters(spec, 1.0).tobytes()


def _given(spec):
    yield spec.model_fields_set
    for value in vars(spec).values():
        for item in value if isinstance(value, tuple) else (value,):
            if isinstance(item, Spec):
                yield from _given(item)


@pytest.mark.parametrize("name", BASES)
def test_variants_are_what_replace_makes_of_any_keys_and_values(name):
    base, draw = BASES[name], random.Random(name)
    models = dict(fields_of(base.spec))
    good = 0
    for _ in range(60):
        keys = draw.sample(sorted(models), draw.choice([1, 1, 2, 3]))
        variants = Variants(base, keys)
        for member in range(4):
            values = [any_value(draw, models[key], key.split(".")[-1]) for key in keys]
            found = outcome(variants.spec, values, f"member {member}")
            assert found == outcome(replaced, base, keys, values, f"member {member}"), (keys, values)
            good += isinstance(found, tuple)
    assert 40 < good < 200  # of 240: both kinds are met often


TWO = ("cap.relief_pressure", "reservoir.fill")


@pytest.fixture
def no_long_way(monkeypatch):
    """Let `Scenario.replace` fail."""
    monkeypatch.setattr("ullage.scenario.load.Scenario.replace", lambda *_, **__: pytest.fail("took the long way"))


@pytest.mark.parametrize(
    ("keys", "values"),
    [
        (TWO, ("13 psi", 0.75)),
        (("weather.temperature", "air.model", "duty.laps"), ("31 degC", "frozen", 3)),
        (("pump.torque_point.speed", *(f"pump.torque_point.{key}" for key in ("pressure", "torque", "viscosity"))),
         ("1500 rpm", "50 bar", "28 N*m", "30 mm2/s")),
    ],
)  # fmt: skip
@pytest.mark.usefixtures("no_long_way")
def test_good_values_are_checked_without_the_rest_of_the_scenario(keys, values):
    spec = Variants(BASES["cold_morning"], keys).spec(values)
    assert spec.cap.kind == "sealed"


def test_recording_of_a_table_without_varied_keys_is_not_read_again(tmp_path):
    for name in ("short_loop.toml", "short_loop_invented.csv"):
        (tmp_path / name).write_bytes((FOLDER / name).read_bytes())
    variants = Variants(load_scenario(tmp_path / "short_loop.toml"), TWO)
    (tmp_path / "short_loop_invented.csv").unlink()
    spec = variants.spec(("12 psi", 0.8))
    assert spec.duty == BASES["short_loop"].spec.duty


def test_values_that_python_takes_for_equal_are_not_taken_for_one_another():
    variants = Variants(truck(), ("duty.laps", "cooler.blockage"))
    assert variants.spec((1, 0.0)).cooler.blockage == 0.0
    for laps in (1.0, True):
        with pytest.raises(ScenarioError, match=r"duty\.laps"):
            variants.spec((laps, 0.0))
    assert math.copysign(1.0, variants.spec((1, -0.0)).cooler.blockage) == -1.0


def test_numbers_of_numpy_are_those_of_python():
    variants = Variants(truck(), ("reservoir.fill", "duty.laps"))
    assert variants.spec((np.float64(0.75), np.int64(2))) == variants.spec((0.75, 2))


def test_many_tables_do_not_pile_up_and_the_first_is_still_right():
    variants = Variants(BASES["ironwood"], TWO)
    specs = [variants.spec(("16 psi", 0.7 + 1e-4 * step)) for step in range(600)]
    assert specs[0] == variants.spec(("16 psi", 0.7))
    assert [spec.reservoir.fill for spec in specs] == [0.7 + 1e-4 * step for step in range(600)]
    assert len(variants._tables) <= 512


def test_element_that_a_variant_has_renamed_is_found_by_its_old_name_in_the_next():
    base, keys = BASES["ironwood"], ("duty.stop.0.name", "duty.stop.fuel pit.duration")
    variants = Variants(base, keys)
    for name in ("fuel pit", "first pit", "other"):
        assert outcome(variants.spec, (name, "5 min")) == outcome(replaced, base, keys, (name, "5 min"))


@pytest.mark.parametrize("key", ["title", "no_table.key", "duty.stop.nowhere.duration", "cap", "", "cap.kind.deep"])
def test_key_that_no_table_holds_is_told_as_replace_tells_it(key):
    base = BASES["ironwood"]
    found = outcome(Variants(base, [key]).spec, ["16 psi"], "row 3")
    assert found == outcome(replaced, base, [key], ["16 psi"], "row 3")


def test_number_of_values_has_to_be_that_of_the_keys():
    with pytest.raises(ValueError, match="shorter"):
        Variants(BASES["ironwood"], TWO).spec(["16 psi"])


def test_tree_that_the_keys_make_too_large_is_refused_as_replace_refuses_it(monkeypatch):
    base = truck()
    monkeypatch.setattr("ullage.scenario.limits.MOST_VALUES", len([*places_of(base.to_dict())]) + 1)
    variants = Variants(base, ["weather.temperature"])
    with pytest.raises(ScenarioError, match="more than"):
        variants.spec(["20 degC"])
