import pytest

from support import truck
from ullage.errors import ScenarioError
from ullage.scenario.load import Scenario
from ullage.scenario.pit_rules import MOST_CHOICES
from ullage.scenario.pit_spec import STANDARD_CHOICES

STOPS = {
    "duty.laps": 2,  # of 10 min
    "duty.stop": [
        {"name": "late", "after_lap": 1, "duration": "5 min"},
        {"name": "early", "time": "2 min", "duration": "4 min"},
    ],
}


def event(action, after="0 s", **others):
    """Return an event of a choice as data."""
    return {"action": action, "after": after, **others}


def own(*events, name="own", **others):
    """Return what a study is asked with one choice of the crew's own, as changes of the truck."""
    return {"pit.choice": [{"name": name, **others, "event": list(events)}]}


OFF, ON = event("cap off", "60 s"), event("cap on", "90 s")
POUR = event("top-up", "65 s", volume="0.1 L")
LEAK = event("fault on", fault="seal leak")
EVENT = "pit.choice.0.event"
HIGH = {"pit.recharge_pressure": "1.2 barg"}  # over the relief pressure of the cap, 16 psi

# the rule, its bad case, where it points, what it says, and the nearest good case
CASES = [
    ("no stop", {"pit.stop": "pit"}, "pit.stop", '"pit" is no stop; there are: late, early', {"pit.stop": "late"}),
    ("standard name", own(name="refit"), "pit.choice.0.name", "a choice that is always there", own(name="refit too")),
    (
        "two of one name",
        {"pit.choice": [{"name": "look"}, {"name": "look", "engine": "off"}]},
        "pit.choice.0.name",
        '"look" is used twice',
        {"pit.choice": [{"name": "look"}, {"name": "look again", "engine": "off"}]},
    ),
    (
        "too many",
        {"pit.choice": [{"name": str(number)} for number in range(MOST_CHOICES + 1)]},
        "pit.choice",
        "more than 12 choices",
        {"pit.choice": [{"name": str(number)} for number in range(MOST_CHOICES)]},
    ),
    (
        "absolute recharge",
        {"pit.recharge_pressure": "1.2 bara"},
        "pit.recharge_pressure",
        "write it as gauge",
        {"pit.recharge_pressure": "0.2 barg"},
    ),
    (
        "recharge over the cap",
        HIGH,
        "pit.recharge_pressure",
        '"1.2 barg" is above the relief pressure of the cap, 110.3 kPa (16 psi): set the regulator below',
        {**HIGH, "cap.relief_pressure": "18 psi"},
    ),
    (
        "recharge over the tank",
        {**HIGH, "cap.relief_pressure": "20 psi", "reservoir.rating": "1.1 barg"},
        "pit.recharge_pressure",
        "is above the rating of the tank, 110 kPa",
        {**HIGH, "cap.relief_pressure": "20 psi", "reservoir.rating": "1.3 barg"},
    ),
    (
        "recharge over the seal",
        {**HIGH, "cap.relief_pressure": "20 psi", "pump.seal_rating": "1 barg"},
        "pit.recharge_pressure",
        "is above the rating of the shaft seal, 100 kPa",
        {**HIGH, "cap.relief_pressure": "20 psi", "pump.seal_rating": "1.2 barg"},
    ),
    (
        "recharge of a vent",
        {"cap.kind": "vented", "pit.recharge_pressure": "0.2 barg"},
        "pit.recharge_pressure",
        "a vented one lets the air out again",
        {"cap.kind": "vented"},
    ),
    (
        "after the stop",
        own(OFF, event("cap on", "241 s")),
        f"{EVENT}.1.after",
        '"241 s" is longer than the stop, 0:04:00: give a time within it, or a longer stop_duration',
        own(OFF, event("cap on", "241 s"), stop_duration="5 min"),
    ),
    (
        "after a shorter stop",
        own(OFF, ON, stop_duration="80 s"),
        f"{EVENT}.1.after",
        "is longer than the stop, 0:01:20",
        own(OFF, ON, stop_duration="90 s"),
    ),
    (
        "into the next stop",
        {**own(stop_duration="13 min"), "duty.stop.0.after_lap": None, "duty.stop.0.time": "14 min"},
        "pit.choice.0.stop_duration",
        "\"13 min\" moves the race so that the stop 'late' falls into the stop 'early', which lasts from 0:02:00 to",
        {**own(stop_duration="12 min"), "duty.stop.0.after_lap": None, "duty.stop.0.time": "14 min"},
    ),
    (
        "top-up of nothing",
        own(OFF, event("top-up", "65 s"), ON),
        f"{EVENT}.1.volume",
        "needs a vol",
        own(OFF, POUR, ON),
    ),
    (
        "volume of a cap",
        own({**OFF, "volume": "1 L"}, ON),
        f"{EVENT}.0.volume",
        "belongs to a top-up, 'lost oil' or 'water got in'; 'cap off' has none",
        own(OFF, ON),
    ),
    ("no fault", own(event("fault on")), f"{EVENT}.0.fault", "say which fault", own(LEAK)),
    (
        "large leak",
        own({**LEAK, "diameter": "9 mm"}),
        f"{EVENT}.0.diameter",
        '"9 mm" is outside',
        own({**LEAK, "diameter": "1 mm"}),
    ),
    (
        "valve of a vent",
        {"cap.kind": "vented", **own(event("fault on", fault="relief stuck open"))},
        f"{EVENT}.0.fault",
        "needs a sealed cap",
        {"cap.kind": "vented", **own(LEAK)},
    ),
    ("shut cap put on", own(ON), f"{EVENT}.0.action", "the cap is already on", own(OFF)),
    (
        "top-up through the cap",
        own(POUR),
        f"{EVENT}.0.action",
        "at 0:03:05: a top-up needs the cap off",
        own(OFF, POUR),
    ),
    (
        "off twice",
        {"event": [{"action": "cap off", "time": "1 min"}], **own(OFF)},
        f"{EVENT}.0.action",
        "the cap is already off",
        {"event": [{"action": "cap off", "time": "1 min"}], **own(ON)},
    ),
    (
        "poured too late",
        own(OFF, {**POUR, "duration": "30 s"}, ON),
        f"{EVENT}.1.action",
        "pours from 0:03:05 to 0:03:35, the cap goes on at 0:03:30",
        own(OFF, {**POUR, "duration": "25 s"}, ON),
    ),
]


@pytest.mark.parametrize(("changes", "place", "words"), [pytest.param(*case[1:4], id=case[0]) for case in CASES])
def test_rule_fires_on_its_bad_case(changes, place, words):
    with pytest.raises(ScenarioError) as caught:
        truck({**STOPS, **changes})
    first, *others = caught.value.faults
    assert first.key == place
    assert words in first.text
    assert all(fault.text == first.text for fault in others)  # of two with one name


@pytest.mark.parametrize(("changes", "place"), [pytest.param(*case[1:3], id=case[0]) for case in CASES])
def test_rule_fires_though_a_value_elsewhere_is_wrong(changes, place):
    with pytest.raises(ScenarioError) as caught:
        truck({**STOPS, **changes, "surroundings.bay_offset": "900 K"})
    assert {place, "surroundings.bay_offset"} <= {fault.key for fault in caught.value.faults}


@pytest.mark.parametrize("changes", [pytest.param(case[4], id=case[0]) for case in CASES])
def test_rule_is_silent_on_the_nearest_good_case(changes):
    assert truck({**STOPS, **changes}).spec.format == 1


@pytest.mark.parametrize("name", STANDARD_CHOICES)
def test_choices_that_are_always_there_keep_their_names(name):
    with pytest.raises(ScenarioError, match=r"pit\.choice\.0\.name"):
        truck({**STOPS, **own(name=name)})


def test_choice_of_a_race_without_stops_waits_for_one():
    assert truck(own(OFF, ON)).spec.pit.choice[0].event[0].after == 60.0


def test_what_the_race_plans_at_the_stop_is_not_done_in_a_choice():
    planned = [
        {"action": "cap off", "stop": "early", "after": "10 s"},
        {"action": "cap on", "stop": "early", "after": "80 s"},
    ]
    assert truck({**STOPS, "event": planned, **own(OFF, ON)}).spec.pit.choice[0].event[0].after == 60.0


def test_choice_with_a_wrong_event_does_not_hide_the_faults_of_another():
    choices = [
        {"name": "one", "event": [{**OFF, "after": "9 weeks"}, event("top-up", "65 s")]},
        {"name": "two", "event": [event("fault on"), {**ON, "share": 0.4}]},
    ]
    with pytest.raises(ScenarioError) as caught:
        truck({**STOPS, "pit.choice": choices})
    assert sorted(fault.key for fault in caught.value.faults) == [
        "pit.choice.0.event.0.after",
        "pit.choice.0.event.1.volume",
        "pit.choice.1.event.0.fault",
        "pit.choice.1.event.1.share",
    ]


def test_fault_of_a_choice_has_its_line():
    text = truck({**STOPS, **own(OFF, POUR, ON)}).to_toml().replace('"top-up"', '"fault on"')
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_toml(text, "f")
    header = [line for line, words in enumerate(text.split("\n"), 1) if words == "[[pit.choice.event]]"][1]
    volume = text.split("\n").index('volume = "0.1 L"') + 1
    assert [(fault.key, fault.line) for fault in caught.value.faults] == [
        ("pit.choice.0.event.1.fault", header),
        ("pit.choice.0.event.1.volume", volume),
    ]


def test_choice_can_be_changed_by_its_name():
    scenario = truck({**STOPS, **own(OFF, ON, name="look")}).replace({"pit.choice.look.event.1.after": "3 min"})
    assert scenario.spec.pit.choice[0].event[1].after == 180.0
