import random
import typing
from pathlib import Path

import pytest

from support import truck
from ullage.errors import ScenarioError
from ullage.scenario.compile import compile_problem
from ullage.scenario.fields import Spec, nested_spec, quantity_of
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
BASES = {path.stem: load_scenario(path) for path in sorted(FOLDER.glob("*.toml"))} | {"busy": truck(BUSY)}


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


def outcome(make):
    """Return all that a specification is, to the last bit and with which keys were given, or all its faults."""
    try:
        spec = make()
    except ScenarioError as error:
        return error.faults
    problem_parts = make_parameters(spec, 1.0).tobytes()
    return spec, repr(spec), [*_given(spec)], problem_parts


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
            changes = dict(zip(keys, values, strict=True))
            found = outcome(lambda: variants.spec(values, f"member {member}"))
            expected = outcome(lambda: base.replace(changes, bare_numbers=False, name=f"member {member}").spec)
            assert found == expected, changes
            good += isinstance(found, tuple)
    assert 40 < good < 200  # of 240: both kinds are met often
