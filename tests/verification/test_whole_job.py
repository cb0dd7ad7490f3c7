"""Whole races of a tank that stands: pressure by heat, height, water, and oil poured in or lost."""

import functools

import numpy as np
import pytest

from outside import DERIVED, LIBRARY, WHOLE_JOB, Check
from still_trucks import at_hours, standing
from support import bench, channel_table, start_at
from ullage.physics import oil
from vessels import only_the_tank
from written_again import AIR, PASSAGES, PSI, SEA_LEVEL, Vessel, ambient, density, expansion, vapour

GAS_AND_OIL = "ideal gas law with oil by API MPMS 11.1 and 11.2.1M, closed form"
WATER_AND_GAS = "IAPWS-95: Python library chemicals"
ATMOSPHERE = "US Standard Atmosphere 1976: Python library fluids"
OIL_IN_AND_OUT = "mass balance with API MPMS 11.1, closed form"

TRUCK = Vessel()
BRIMFUL = Vessel(fill=0.97, filled_at=253.15)
OVERFULL = Vessel(fill=1.0 + 1.0e-4 / 7.6e-3)
SETTLED = "the march ends within 1e-5 K of the weather, and its root of the pressure within 1e-3 Pa"


@functools.cache
def heated_vessel(tank_expansion):
    """Return the end pressure of a 1.5 L vessel with 1.0 L of oil, shut at 20 degC and brought to 100 degC."""
    b = only_the_tank(1.0e-3, 293.15)
    p = b.parameters
    p.tank_volume, p.tank_expansion, p.tank_outside = 1.5e-3, tank_expansion, 500.0
    p.relief_crack = 1e9
    start_at(b.state, p, 293.15, SEA_LEVEL)
    time = np.linspace(0.0, 3600.0, 61)
    out, _, status = b.run(time, channel_table(time, bay_temperature=373.15))
    assert status == 0
    assert out.oil_temperature[-1, 0] == pytest.approx(373.15, abs=1e-3)
    return out.headspace_pressure[-1]


def closed_vessel(tank_expansion):
    vessel = Vessel(1.5e-3, 1.0 / 1.5, 0.0, 0.0, tank_expansion)
    return vessel.pressure(373.15, vessel.air_amount(293.15, SEA_LEVEL))


def warmed(celsius, **tables):
    return standing(5, at_hours((0, 10), (2, celsius)), **tables)


def end_pressures(*results):
    return [float(data.headspace_pressure[-1]) for data in results]


def brimful(celsius):
    """Return a truck filled to 97 % at -20 degC, its relief valve stuck shut, warmed until hardly any air is left."""
    return standing(
        5,
        at_hours((0, -20), (2, celsius)),
        [{"action": "fault on", "fault": "relief stuck shut", "time": "1 s"}],
        reservoir={"fill": 0.97, "fill_temperature": "-20 degC"},
        start={"temperature": "-20 degC"},
    )


def brimful_pressure(celsius):
    return BRIMFUL.pressure(celsius + 273.15, BRIMFUL.air_amount(253.15, SEA_LEVEL))


@functools.cache
def brimful_bench():
    """Return pressures at 20.0 and 20.5 degC of the test truck with 1e-6 kg of air left in a tank full of oil."""
    return tuple(_full_of_oil(temperature) for temperature in (293.15, 293.65))


def _full_of_oil(temperature):
    b = bench()
    p, s = b.parameters, b.state
    p.relief_crack, p.transfer_velocity, p.gas_wall_conductance = 1e9, 0.0, 0.0
    s.dissolved_air = 0.0
    for name in ("tank_outside", "pump_outside", "gear_outside", "still_conductance"):
        setattr(p, name, 50.0)
    p.mount_conductance = 0.0
    s.oil_mass = (p.tank_volume + 1.0e-4 + TRUCK.passages) * oil.density(293.15, p.density_15)
    start_at(s, p, 293.15, SEA_LEVEL)
    s.air_mass, s.air_heat = 1e-6, 1e-6 * 293.15
    time = np.arange(0.0, 7201.0, 10.0)
    out, _, status = b.run(time, channel_table(time, bay_temperature=temperature, ambient_temperature=temperature))
    assert status == 0
    return out.headspace_pressure[-1]


def expansion_over_compliance():
    """Return psi/K: growth of the oil less that of the metal and its softening, over what wall, oil and air yield."""
    here, amount = 293.4, 1e-6 * AIR
    above = (OVERFULL.pressure(here, amount) - SEA_LEVEL), OVERFULL.pressure(here, amount)
    in_tank = OVERFULL.oil() / density(here)
    growth = in_tank * expansion(here) - TRUCK.tank * TRUCK.expansion - TRUCK.passages * PASSAGES
    softer = (OVERFULL.compliance(here + 0.1) - OVERFULL.compliance(here - 0.1)) / 0.2 * above[0]
    held = amount / above[1]
    return (growth - softer + held) / (OVERFULL.compliance(here) + held * here / above[1]) / PSI


def wet(content, celsius):
    data = warmed(celsius, fluid={"water_content": content})
    return float(data.headspace_pressure[-1])


def wet_pressure(content, celsius):
    amount = TRUCK.air_amount(283.15, SEA_LEVEL, vapour(283.15, content))
    return TRUCK.pressure(celsius + 273.15, amount, vapour(celsius + 273.15, content))


def climbed():
    data = standing(5, at_hours((0, 10), (2, 10)), start={"elevation": "900 m"}, elevation="1750 m")
    return float(data.headspace_gauge_pressure[-1]) / PSI


SERVICED = [
    {"action": "cap off", "time": "1 h"},
    {"action": "top-up", "time": "1 h 1 min", "volume": "0.5 L", "temperature": "30 degC"},
    {"action": "cap on", "time": "1 h 3 min"},
    {"action": "fault on", "fault": "lost oil", "volume": "0.8 L", "time": "2 h"},
]


def serviced():
    return standing(5, at_hours((0, 10), (2, 10)), SERVICED)


def more_oil():
    return 0.5e-3 * density(303.15) - 0.8e-3 * density(283.15)


CHECKS = [
    Check(
        WHOLE_JOB,
        "sealed heating from 20 to 100 degC of a rigid vessel, 0.5 L of air over 1.0 L of oil: end pressure",
        lambda: heated_vessel(0.0),
        lambda: closed_vessel(0.0),
        "Pa",
        GAS_AND_OIL,
        DERIVED,
        SETTLED,
        abs=0.01,
    ),
    Check(
        WHOLE_JOB,
        "the same vessel with a wall that grows by 7.1e-5 per kelvin: end pressure",
        lambda: heated_vessel(7.1e-5),
        lambda: closed_vessel(7.1e-5),
        "Pa",
        GAS_AND_OIL,
        DERIVED,
        SETTLED,
        abs=0.01,
    ),
    Check(
        WHOLE_JOB,
        "a truck with a 7.6 L tank, filled to 80 % at 20 degC, shut at 10 degC, engine off, warmed by the weather to "
        "35 and 55 degC: pressure of the air space",
        lambda: end_pressures(warmed(35), warmed(55)),
        lambda: [TRUCK.pressure(celsius + 273.15, TRUCK.air_amount(283.15, SEA_LEVEL)) for celsius in (35.0, 55.0)],
        "Pa",
        GAS_AND_OIL,
        DERIVED,
        SETTLED,
        abs=0.01,
    ),
    Check(
        WHOLE_JOB,
        "the same truck filled to 97 % at -20 degC, relief valve stuck shut, at 5, 8 and 10 degC: air squeezed to 1 % "
        "of the tank",
        lambda: end_pressures(*map(brimful, (5.0, 8.0, 10.0))),
        lambda: [brimful_pressure(celsius) for celsius in (5.0, 8.0, 10.0)],
        "Pa",
        GAS_AND_OIL,
        DERIVED,
        SETTLED,
        abs=0.01,
    ),
    Check(
        WHOLE_JOB,
        "tank full of oil but for 1 mg of air, from 20.0 to 20.5 degC: pressure per kelvin is expansion of oil less "
        "metal over the compliance of wall and oil",
        lambda: (brimful_bench()[1] - brimful_bench()[0]) / 0.5 / PSI,
        expansion_over_compliance,
        "psi/K",
        GAS_AND_OIL,
        DERIVED,
        "half a kelvin is no differential",
        rel=1e-5,
    ),
    Check(
        WHOLE_JOB,
        "wet oil, 100 and 400 mg/kg of water, shut at 10 degC and warmed to 55 degC: pressure of air and vapour",
        lambda: [wet(content, 55) for content in (1e-4, 4e-4)],
        lambda: [wet_pressure(content, 55) for content in (1e-4, 4e-4)],
        "Pa",
        WATER_AND_GAS,
        LIBRARY,
        "6e-5 of the vapour between IAPWS-95 and its auxiliary equation",
        abs=1.0,
    ),
    Check(
        WHOLE_JOB,
        "a sealed truck shut at 900 m and carried up to 1750 m at 10 degC: what its gauge gains",
        climbed,
        lambda: (ambient(900.0) - ambient(1750.0)) / PSI,
        "psi",
        ATMOSPHERE,
        LIBRARY,
        "wall and oil give way by 2e-6 of the air space",
        rel=1e-5,
    ),
    Check(
        WHOLE_JOB,
        "a vented truck warmed from 10 to 55 degC while it is carried up to 1500 m: air that goes out at the cap",
        lambda: float(_vented().air_vented[-1] - _vented().air_admitted[-1]),
        lambda: (TRUCK.air_amount(283.15, SEA_LEVEL) - TRUCK.air_amount(328.15, ambient(1500.0))) / AIR,
        "kg",
        GAS_AND_OIL,
        DERIVED,
        "1e-5 between gas constants, and the march's tolerance on the mass that flows",
        rel=2e-5,
    ),
    Check(
        WHOLE_JOB,
        "0.5 L of oil poured in at 30 degC, 0.8 L lost at 10 degC: change of the oil in the circuit",
        lambda: float(serviced().oil_mass[-1] - serviced().oil_mass[0]),
        more_oil,
        "kg",
        OIL_IN_AND_OUT,
        DERIVED,
        "rounding",
        rel=1e-9,
    ),
    Check(
        WHOLE_JOB,
        "the same truck at 10 degC: level before and after, as share of the tank",
        lambda: [float(serviced().oil_level[row]) for row in (0, -1)],
        lambda: [TRUCK.level_volume(283.15, more) / TRUCK.room(283.15) for more in (0.0, more_oil())],
        "1",
        OIL_IN_AND_OUT,
        DERIVED,
        "the vacuum after the loss lets wall and oil give way by 1e-6 m3 of 7.6e-3",
        abs=2e-4,
    ),
]


def _vented():
    return standing(5, at_hours((0, 10), (2, 55)), cap={"kind": "vented"}, elevation="1500 m")


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_a_tank_that_stands_does_what_gas_law_and_expansion_say(check):
    assert check.misses() == []


def test_a_vented_truck_stays_at_ambient_pressure():
    # through a breather of 3 mm2 a change over hours takes no pressure
    assert float(abs(_vented().headspace_gauge_pressure).max()) < 5.0


def test_with_the_engine_off_the_pump_has_no_margins():
    data = warmed(55)
    for name in ("vapour_margin", "air_margin", "rating_margin", "pump_void_fraction"):
        assert np.all(np.isnan(data[name])), name
