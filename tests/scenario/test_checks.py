import pytest

from support import truck
from ullage.errors import ScenarioError

OWN = {"fluid.preset": None, "fluid.viscosity_100": "7 mm2/s", "fluid.density_15": "870 kg/m3"}
FLOW = {"speed": "1000 rpm", "pressure": "50 bar", "flow": "27.9 L/min", "viscosity": "30 mm2/s"}  # 28 cm3 a turn
TORQUE = {"speed": "1000 rpm", "pressure": "50 bar", "torque": "25 N*m", "viscosity": "30 mm2/s"}
PIT = {"name": "pit", "after_lap": 1, "duration": "1 min"}
SEGMENT = "duty.segment.0"


def event(action, time=None, **others):
    """Return an event as data."""
    return {"action": action, **({} if time is None else {"time": time}), **others}


def thermostat(kind, low):
    """Return the changes that give the cooler a thermostat of 80 degC and a lower setting."""
    high, lower = {"fan": ("fan_on", "fan_off"), "core": ("thermostat_open", "thermostat_shut")}[kind]
    return {f"cooler.{high}_temperature": "80 degC", f"cooler.{lower}_temperature": low}


OFF, ON = event("cap off", "1 min"), event("cap on", "5 min")
POUR = event("top-up", "2 min", volume="0.1 L")

# the rule, its bad case, where it points, what it says, and the nearest good case
CASES = [
    ("preset", {"fluid.preset": "VG 46"}, "fluid.preset", "'ISO VG 22', ", {"fluid.preset": "ISO VG 46"}),
    ("no oil", OWN, "fluid", "viscosity_40", {**OWN, "fluid.viscosity_40": "30 mm2/s"}),
    (
        "hot viscosity",
        {"fluid.viscosity_40": "12 mm2/s", "fluid.viscosity_100": "12 mm2/s"},
        "fluid.viscosity_100",
        "below viscosity_40",
        {"fluid.viscosity_40": "12 mm2/s", "fluid.viscosity_100": "11.9 mm2/s"},
    ),
    ("cold pair", {"fluid.cold_temperature": "-20 degC"}, "fluid.cold_viscosity", "belong together", {}),
    ("cold pair too", {"fluid.cold_viscosity": "900 mm2/s"}, "fluid.cold_temperature", "belong together", {}),
    (
        "cold viscosity",
        {"fluid.cold_temperature": "-20 degC", "fluid.cold_viscosity": "34 mm2/s"},
        "fluid.cold_viscosity",
        "above viscosity_40",
        {"fluid.cold_temperature": "-20 degC", "fluid.cold_viscosity": "35 mm2/s"},
    ),
    (
        "bypass",
        {"pump.bypass_routing": None},
        "pump.bypass_routing",
        "'inlet' or 'reservoir'",
        {"pump.bypass_routing": None, "pump.controlled_flow": None},
    ),
    (
        "flow point",
        {"pump.flow_point": {**FLOW, "flow": "28.1 L/min"}},
        "pump.flow_point.flow",
        "no slip",
        {"pump.flow_point": FLOW},
    ),
    (
        "slip twice",
        {"pump.flow_point": FLOW, "pump.slip_coefficient": 1e-8},
        "pump.slip_coefficient",
        "one of the two",
        {"pump.slip_coefficient": 1e-8},
    ),
    (
        "friction twice",
        {"pump.torque_point": TORQUE, "pump.friction": 0.06},
        "pump.friction",
        "one of the two",
        {"pump.torque_point": TORQUE},
    ),
    ("fan pair", {"cooler.fan_on_temperature": "80 degC"}, "cooler.fan_on_temperature", "belong together", {}),
    (
        "thermostat pair",
        {"cooler.thermostat_shut_temperature": "60 degC"},
        "cooler.thermostat_open_temperature",
        "belong together",
        {},
    ),
    ("fan band", thermostat("fan", "79.6 degC"), "cooler.fan_off_temperature", "0.5 K", thermostat("fan", "79.4 degC")),
    (
        "thermostat band",
        thermostat("core", "81 degC"),
        "cooler.thermostat_shut_temperature",
        "0.5 K",
        thermostat("core", "79.4 degC"),
    ),
    ("tank rating", {"reservoir.rating": "3 bara"}, "reservoir.rating", "gauge", {"reservoir.rating": "2 barg"}),
    ("seal rating", {"pump.seal_rating": "3 bara"}, "pump.seal_rating", "gauge", {"pump.seal_rating": "2 barg"}),
    ("length and duration", {f"{SEGMENT}.length": "1 km"}, SEGMENT, "either length or duration", {}),
    ("no length", {f"{SEGMENT}.duration": None}, SEGMENT, "either length or duration", {}),
    (
        "length without speed",
        {f"{SEGMENT}.duration": None, f"{SEGMENT}.length": "1 km", f"{SEGMENT}.vehicle_speed": "0 km/h"},
        f"{SEGMENT}.vehicle_speed",
        "is no speed for a segment with a length",
        {f"{SEGMENT}.duration": None, f"{SEGMENT}.length": "1 km"},
    ),
    ("stop after the end", {"duty.stop": [{**PIT, "after_lap": 2}]}, "duty.stop.0.after_lap", "1 laps", {}),
    (
        "trapped air",
        {"start.trapped_air": "0.3 L", "steering_gear.oil_volume": "0.3 L"},
        "start.trapped_air",
        '"0.3 L" must be less than steering_gear.oil_volume, 0.3 L (0.317 qt)',
        {"start.trapped_air": "0.29 L", "steering_gear.oil_volume": "0.3 L"},
    ),
    (
        "weather",
        {"weather.point": [{"time": "1 s", "temperature": "9 degC"}, {"time": "1 s", "temperature": "8 degC"}]},
        "weather.point.1.time",
        '"1 s" is not after the point before, at 0:00:01: put the points in order',
        {"weather.point": [{"time": "1 s", "temperature": "9 degC"}, {"time": "2 s", "temperature": "8 degC"}]},
    ),
    (
        "long race",
        {f"{SEGMENT}.duration": "20 h", "duty.laps": 11},
        "duty",
        "220 h; the limit is 200 h",
        {f"{SEGMENT}.duration": "20 h", "duty.laps": 10},
    ),
    (
        "many rows",
        {f"{SEGMENT}.duration": "2.8 h", "duty.sample_interval": "10 ms"},
        "duty.sample_interval",
        "1000000 rows",
        {f"{SEGMENT}.duration": "2.7 h", "duty.sample_interval": "10 ms"},
    ),
    (
        "late event",
        {"event": [event("cap off", "601 s")]},
        "event.0.time",
        '"601 s" is not before the end of the race at 0:10:00: give an earlier time',
        {"event": [event("cap off", "599 s")]},
    ),
    (
        "slip of a worn-out pump",
        {"pump.flow_point": {**FLOW, "flow": "0.1 L/min", "pressure": "1 bar"}},
        "pump.flow_point",
        "gives a slip",
        {"pump.flow_point": FLOW},
    ),
    (
        "torque of perpetual motion",
        {"pump.torque_point": {"speed": "2000 rpm", "pressure": "100 bar", "torque": 1.0, "viscosity": "30 mm2/s"}},
        "pump.torque_point",
        "gives a friction",
        {"pump.torque_point": {"speed": "2000 rpm", "pressure": "100 bar", "torque": 55.0, "viscosity": "30 mm2/s"}},
    ),
    (
        "after the stop",
        {"duty.stop": [PIT], "event": [event("cap off", stop="pit", after="61 s")]},
        "event.0.after",
        '"61 s" is longer than the stop, 0:01:00: give a time within it',
        {"duty.stop": [PIT], "event": [event("cap off", stop="pit", after="60 s")]},
    ),
    (
        "cap on twice",
        {"event": [ON]},
        "event.0.action",
        "\"cap on\" at 0:05:00: the cap is already on; put its 'cap off' before, or leave this out",
        {"event": [OFF, ON]},
    ),
    (
        "cap off twice",
        {"event": [{**OFF, "time": "3 min"}, OFF]},
        "event.0.action",
        "at 0:03:00: the cap is already off",
        {},
    ),
    (
        "engine off twice",
        {"event": [event("engine off", "3 s"), event("engine off", "4 s")]},
        "event.1.action",
        "at 0:00:04: the engine is already off; put its 'engine on' before",
        {"event": [event("engine off", "3 s"), event("engine on", "4 s")]},
    ),
    (
        "top-up through a cap",
        {"event": [POUR]},
        "event.0.action",
        "\"top-up\" at 0:02:00: a top-up needs the cap off; put 'cap off' before",
        {"event": [OFF, {**POUR, "time": "5 min"}]},
    ),
    (
        "top-up after the cap is on again",
        {"event": [OFF, ON, {**POUR, "time": "5 min"}]},
        "event.2.action",
        "needs the cap off",
        {"event": [OFF, {**POUR, "time": "5 min"}, {**ON, "time": "6 min"}]},
    ),
    (
        "top-up that the cap cuts short",
        {"event": [OFF, {**POUR, "time": "295 s"}, ON]},
        "event.1.action",
        '"top-up" pours from 0:04:55 to 0:05:15, the cap goes on at 0:05:00; pour earlier or faster',
        {"event": [OFF, {**POUR, "time": "295 s", "duration": "5 s"}, ON]},
    ),
    (
        "two top-ups at once",
        {"event": [OFF, POUR, {**POUR, "time": "130 s"}]},
        "event.1.action",
        '"top-up" pours from 0:02:00 to 0:02:20, the next begins at 0:02:10; pour earlier or faster',
        {"event": [OFF, POUR, {**POUR, "time": "140 s"}]},
    ),
    (
        "top-up over the end",
        {"event": [OFF, {**POUR, "time": "595 s"}]},
        "event.1.action",
        '"top-up" pours from 0:09:55 to 0:10:15, the race ends at 0:10:00; pour earlier or faster',
        {"event": [OFF, {**POUR, "time": "580 s"}]},
    ),
    (
        "no air space",
        {"reservoir.fill": 0.97, "start.temperature": "100 degC"},
        "reservoir.fill",
        "no air space at the start, at 100 degC (212 degF)",
        {"reservoir.fill": 0.97, "start.temperature": "15 degC"},
    ),
    (
        "no air space beside what is trapped",
        {"start.trapped_air": "1.5 L", "reservoir.fill": 0.95, "start.temperature": "60 degC"},
        "reservoir.fill",
        "no air space at the start, at 60 degC (140 degF)",
        {"start.trapped_air": "0 L", "reservoir.fill": 0.95, "start.temperature": "60 degC"},
    ),
    (
        "drawn empty",
        {"steering_gear.oil_volume": "10 L", "reservoir.volume": "1 L", "reservoir.fill": 0.3},
        "reservoir.volume",
        "too little oil",
        {"steering_gear.oil_volume": "1 L", "reservoir.volume": "2 L", "reservoir.fill": 0.5},
    ),
    (
        "emptied after running over",
        {"steering_gear.oil_volume": "3 L", "reservoir.volume": "1.5 L", "reservoir.fill": 0.6},
        "reservoir.volume",
        "once it has run over",
        {"steering_gear.oil_volume": "3 L", "reservoir.volume": "4 L", "reservoir.fill": 0.6},
    ),
    (
        "vapour",
        {"start.headspace_pressure": "-0.5 barg", "fluid.water_content": 0.002, "start.temperature": "90 degC"},
        "start.headspace_pressure",
        "vapour pressure",
        {"start.headspace_pressure": "-0.5 barg", "fluid.water_content": 0.002, "start.temperature": "70 degC"},
    ),
    (
        "over the cap",
        {"start.headspace_pressure": "17 psig"},
        "start.headspace_pressure",
        "relief pressure of the cap",
        {"start.headspace_pressure": "15.9 psig"},
    ),
    (
        "over the cap, absolute",
        {"start.headspace_pressure": "2.3 bara"},
        "start.headspace_pressure",
        "relief pressure of the cap",
        {"start.headspace_pressure": "2.3 bara", "cap.kind": "vented"},
    ),
    (
        "over the rating",
        {"start.headspace_pressure": "1 barg", "reservoir.rating": "0.99 barg"},
        "start.headspace_pressure",
        "rating of the tank",
        {"start.headspace_pressure": "1 barg", "reservoir.rating": "1.01 barg"},
    ),
]


@pytest.mark.parametrize(("bad", "place", "words"), [pytest.param(*case[1:4], id=case[0]) for case in CASES])
def test_rule_fires_alone_on_its_bad_case(bad, place, words):
    with pytest.raises(ScenarioError) as caught:
        truck(bad)
    (fault,) = caught.value.faults
    assert fault.key == place
    assert words in fault.text


@pytest.mark.parametrize(("bad", "place"), [pytest.param(*case[1:3], id=case[0]) for case in CASES])
def test_rule_fires_though_a_value_elsewhere_is_wrong(bad, place):
    with pytest.raises(ScenarioError) as caught:
        truck({**bad, "surroundings.bay_offset": "900 K"})
    assert sorted(fault.key for fault in caught.value.faults) == sorted([place, "surroundings.bay_offset"])


@pytest.mark.parametrize("good", [pytest.param(case[4], id=case[0]) for case in CASES if case[4]])
def test_rule_is_silent_on_the_nearest_good_case(good):
    assert truck(good).spec.format == 1


def test_name_used_twice_is_a_fault_of_both_stops():
    with pytest.raises(ScenarioError) as caught:
        truck({"duty.stop": [PIT, PIT]})
    assert [str(fault) for fault in caught.value.faults] == [
        f'duty.stop.{place}.name: "pit" is used twice' for place in (0, 1)
    ]


def test_simultaneous_events_are_judged_in_their_written_order():
    truck({"event": [OFF, {**POUR, "time": "1 min"}]})
    with pytest.raises(ScenarioError, match="needs the cap off"):
        truck({"event": [{**POUR, "time": "1 min"}, OFF]})
