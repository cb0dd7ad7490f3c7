"""Air between headspace, solution and bubbles in one implicit stage."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ullage.kernel.pools import FLOOR_MASS, AirExchange, exchange
from ullage.physics.air import GAS_CONSTANT

TEMPERATURE = 350.0
STILL = AirExchange(
    oil_mass=8.0,
    reservoir_mass=5.0,
    solubility=1.32e-9,
    threshold=5e3,
    line_deficit=0.0,
    uptake_rate=0.0,
    tank_release=0.0,
    line_release=0.0,
    dissolving=0.0,
    rising=0.0,
    drawn_in=0.0,
    added=0.0,
    freed=0.0,
    drain=0.0,
)
SATURATED = 1.32e-9 * 8.0 * 101325.0


def rate(highest):
    """Return none, or a number over several decades."""
    return st.one_of(st.just(0.0), st.floats(-6.0, 0.0).map(lambda power: highest * 10.0**power))


EXCHANGES = st.builds(
    AirExchange,
    oil_mass=st.floats(3.0, 30.0),
    reservoir_mass=st.floats(0.5, 3.0),
    solubility=st.floats(7e-10, 3e-9),
    threshold=st.floats(0.0, 5e4),
    line_deficit=st.floats(-2e4, 1e5),
    uptake_rate=rate(10.0),
    tank_release=rate(10.0),
    line_release=rate(100.0),
    dissolving=rate(10.0),
    rising=rate(10.0),
    drawn_in=rate(1e-3),
    added=rate(1e-4),
    freed=rate(1e-5),
    drain=rate(0.1),
)
STAGES = st.fixed_dictionaries(
    {
        "x": EXCHANGES,
        "air_pressure": st.floats(1e3, 5e5),
        "base": st.tuples(
            st.just(1.0),
            st.one_of(st.floats(1e-7, 1e-5), st.floats(1e-5, 1e-2)),
            st.floats(0.0, 1e-2),
            st.just(0.0),
            st.one_of(st.just(0.0), st.floats(0.0, 1e-3)),
        ),
        "weight": st.floats(-6.0, 2.0).map(lambda power: 10.0**power),
        "air_in": rate(1e-3),
        "oil_out": rate(0.5),
    }
)


def solved(x, air_pressure, base, weight, air_in, oil_out):
    return exchange(x, air_pressure, TEMPERATURE, base, weight, air_in, oil_out)


@given(STAGES)
@settings(max_examples=300, deadline=None)
def test_a_stage_keeps_all_air(stage):
    pools, x = solved(**stage), stage["x"]
    gained = pools.dissolved_rate + pools.free_rate + pools.lost - pools.from_headspace
    largest = max(abs(value) for value in (*pools, x.added, x.freed))
    # rounding of sums and of quotients of rates that differ by eight decades, and of a flow through the surface that is
    # the difference of what the air above pulls and what the oil holds
    pulled = x.uptake_rate * (x.solubility * x.oil_mass * stage["air_pressure"] + stage["base"][2])
    between = (x.dissolving + x.rising + x.tank_release + x.line_release) * (stage["base"][2] + stage["base"][4])
    assert gained == pytest.approx(x.added + x.freed, abs=1e-13 * (largest + pulled + between) + 1e-25)


@given(STAGES)
@settings(max_examples=300, deadline=None)
def test_a_stage_solves_its_straight_line_equations(stage):
    pools, x, base, weight = solved(**stage), stage["x"], stage["base"], stage["weight"]
    dissolved, free = base[2] + weight * pools.dissolved_rate, base[4] + weight * pools.free_rate
    held = x.solubility * x.oil_mass
    tank = max(0.0, held * (stage["air_pressure"] + x.threshold))
    line = max(0.0, tank - held * x.line_deficit)
    released = x.tank_release * max(0.0, dissolved - tank) + x.line_release * max(0.0, dissolved - line)
    leaving = stage["oil_out"] + x.drain
    spare = max(0.0, base[1] - FLOOR_MASS)
    drawn = min(x.drawn_in * stage["air_pressure"] / (GAS_CONSTANT * TEMPERATURE), spare / (0.1 + weight))
    fallen = x.dissolving * free + x.rising * free + leaving / x.reservoir_mass * free
    # a step of 100 s times a rate of 100 a second loses four digits of its largest term
    size = max(dissolved, free, base[2], base[4], 1e-12)
    close = 1e-9 * size / weight + 1e-12 * size * 200.0
    assert pools.free_rate == pytest.approx(drawn + x.freed + released - fallen, abs=close)
    through = pools.dissolved_rate - x.added + leaving / x.oil_mass * dissolved + released - x.dissolving * free
    wanted = x.uptake_rate * (held * stage["air_pressure"] - dissolved)
    # the surface passes what Henry's law asks for, or all but a floor that the air space has, in a tenth of a second
    most = stage["air_in"] + spare / (0.1 + weight)
    assert through <= wanted + close + 1e-12 * x.uptake_rate * size
    assert pools.from_headspace <= most + close
    if through < wanted - close - 1e-12 * x.uptake_rate * size:
        assert pools.from_headspace == pytest.approx(most, abs=close)


@given(STAGES)
@settings(max_examples=300, deadline=None)
def test_no_pool_falls_below_nothing(stage):
    pools, base, weight = solved(**stage), stage["base"], stage["weight"]
    rounding = -1e-12 * (base[2] + base[4] + 1e-9)
    assert base[2] + weight * pools.dissolved_rate >= rounding
    assert base[4] + weight * pools.free_rate >= rounding
    assert pools.down >= 0.0
    assert pools.lost >= 0.0


@given(EXCHANGES, st.floats(-6.0, 2.0), st.floats(0.0, 1e-3))
@settings(max_examples=200, deadline=None)
def test_an_empty_headspace_gives_nothing_but_what_comes_in_and_comes_back(x, power, air_in):
    for weight in (0.0, 10.0**power):
        pools = solved(x, 2e5, (1e-5, FLOOR_MASS, 0.0, 0.0, 1e-4), weight, air_in, 0.0)
        # rounding of the flows asked for
        asked = x.uptake_rate * x.solubility * x.oil_mass * 2e5 + pools.down + x.rising * 1e-4
        assert pools.from_headspace <= air_in + 1e-12 * asked


def test_rates_of_an_instant_are_those_of_a_short_step_when_the_headspace_is_empty():
    thirsty = STILL._replace(uptake_rate=10.0, line_release=1.0, line_deficit=8e4, rising=0.5, drawn_in=1e-4)
    base = (1e-5, 2.0 * FLOOR_MASS, 0.5 * SATURATED, 0.0, 1e-4)
    now, soon = (solved(thirsty, 101325.0, base, weight, 0.0, 0.0) for weight in (0.0, 1e-7))
    # first order: a millionth of a tenth of a second
    assert soon == pytest.approx(tuple(now), rel=1e-4)


@pytest.mark.parametrize("start", [0.0, 2.0])
def test_fast_uptake_ends_at_henry_equilibrium_from_both_sides(start):
    fast = STILL._replace(uptake_rate=1e6)
    pools = solved(fast, 101325.0, (1.0, 1.0, start * SATURATED, 0.0, 0.0), 1.0, 0.0, 0.0)
    # a step of one second at a rate of 1e6 a second leaves 1e-6
    assert start * SATURATED + pools.dissolved_rate == pytest.approx(SATURATED, rel=2e-6)
    assert pools.free_rate == 0.0


@pytest.mark.parametrize(
    ("rates", "limit"),
    [
        ({"tank_release": 1e9}, 106325.0),
        ({"line_release": 1e9, "line_deficit": 40e3}, 66325.0),
        ({"tank_release": 1e3, "line_release": 1e9, "line_deficit": 40e3}, 66325.0),
        ({"tank_release": 1e9, "line_release": 1e9, "line_deficit": -40e3}, 106325.0),
    ],
    ids=["tank", "line", "line below tank", "line above tank"],
)
def test_fast_release_ends_at_equilibrium_and_threshold_where_it_happens(rates, limit):
    start = 2.0 * SATURATED
    pools = solved(STILL._replace(**rates), 101325.0, (1.0, 1.0, start, 0.0, 0.0), 1.0, 0.0, 0.0)
    assert start + pools.dissolved_rate == pytest.approx(
        SATURATED * limit / 101325.0, rel=1e-5
    )  # rates over 1e-6 of it
    assert pools.free_rate == pytest.approx(-pools.dissolved_rate, rel=1e-12)
    assert pools.from_headspace == 0.0


def test_a_step_of_no_length_gives_the_rates_of_the_instant():
    x = STILL._replace(uptake_rate=1e-3, tank_release=0.01, line_release=0.2, line_deficit=2e4, rising=0.02, freed=1e-7)
    base = (1.0, 1e-3, 1.5 * SATURATED, 0.0, 2e-5)
    pools = solved(x, 101325.0, base, 0.0, 0.0, 0.0)
    released = 0.01 * (0.5 * SATURATED - SATURATED * 5e3 / 101325.0) + 0.2 * SATURATED * (0.5 + 15e3 / 101325.0)
    assert pools.free_rate == pytest.approx(released + 1e-7 - 0.02 * 2e-5, rel=1e-12)
    assert pools.from_headspace == pytest.approx(-1e-3 * 0.5 * SATURATED - 0.02 * 2e-5, rel=1e-12)
    near = solved(x, 101325.0, base, 1e-9, 0.0, 0.0)
    assert near == pytest.approx(tuple(pools), rel=1e-6)  # first order in the weight times rates of 0.2 a second


def test_bubbles_rise_and_dissolve_with_their_rates():
    x = STILL._replace(rising=0.03, dissolving=0.01)
    pools = solved(x, 101325.0, (1.0, 1e-3, SATURATED, 0.0, 1e-4), 1e-9, 0.0, 0.0)
    assert pools.free_rate == pytest.approx(-0.04 * 1e-4, rel=1e-6)
    assert pools.from_headspace == pytest.approx(-0.03 * 1e-4, rel=1e-6)
    assert pools.dissolved_rate == pytest.approx(0.01 * 1e-4, rel=1e-6)
    assert pools.down == 0.0


def test_gas_is_drawn_in_at_the_density_of_the_headspace():
    pools = solved(STILL._replace(drawn_in=1e-5), 150e3, (1.0, 1e-2, 0.0, 0.0, 0.0), 1e-6, 0.0, 0.0)
    assert pools.free_rate == pytest.approx(1e-5 * 150e3 / (GAS_CONSTANT * TEMPERATURE), rel=1e-9)
    assert pools.down == pools.from_headspace == pools.free_rate


def test_oil_that_leaves_takes_its_air_along():
    pools = solved(STILL._replace(drain=0.05), 101325.0, (1.0, 1e-3, SATURATED, 0.0, 1e-4), 1e-9, 0.0, 0.03)
    assert pools.lost == pytest.approx(0.08 * (SATURATED / 8.0 + 1e-4 / 5.0), rel=1e-6)
