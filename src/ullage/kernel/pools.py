"""Exchange of air between headspace, solution and bubbles, in closed form for an implicit step."""

from __future__ import annotations

from typing import NamedTuple

from ullage.compiled import compiled, inlined
from ullage.physics.air import GAS_CONSTANT

FLOOR_MASS = 1e-7
_EMPTYING_TIME = 0.1  # the oil takes the last air of an air space with this time constant [s]

Five = tuple[float, float, float, float, float]


class AirExchange(NamedTuple):
    """What moves air in an interval, SI units.

    Rates [s-1] are of first order: `uptake_rate` of the solution towards Henry equilibrium, `tank_release` and
    `line_release` of what is oversaturated in tank and feed line, `dissolving` and `rising` of the bubbles. `drawn_in`
    is a flow of headspace gas [m3 s-1], `added` and `freed` flows of air [kg s-1] from top-ups and from hoses,
    `line_deficit` how far the feed line lies below the headspace [Pa], `drain` oil that runs out [kg s-1].
    """

    oil_mass: float
    reservoir_mass: float
    solubility: float
    threshold: float
    line_deficit: float
    uptake_rate: float
    tank_release: float
    line_release: float
    dissolving: float
    rising: float
    drawn_in: float
    added: float
    freed: float
    drain: float


class Pools(NamedTuple):
    """Flows of air between the pools [kg s-1]: `down` from headspace to oil, `from_headspace` the same less what rises.

    `lost` leaves with oil.
    """

    down: float
    from_headspace: float
    dissolved_rate: float
    free_rate: float
    lost: float


class Surface(NamedTuple):
    """Flow through the surface, `pull - rate * dissolved + returning * free` [kg s-1], and the limits of release [kg].

    `returning` is the rate at which bubbles bring back what an empty air space passes on at once.
    """

    pull: float
    rate: float
    returning: float
    tank_limit: float
    line_limit: float


@compiled
def _dissolved(
    start: float, slope: float, worth: float, first: tuple[float, float], second: tuple[float, float]
) -> float:
    """Return the x that solves `slope x + worth (k1 (x - x1)+ + k2 (x - x2)+) = start`.

    `first` and `second` are the pairs of k and x; the piecewise straight line rises, so each side is tried once.
    """
    if first[1] > second[1]:
        first, second = second, first
    x = start / slope
    if x <= first[1]:
        return x
    x = (start + worth * first[0] * first[1]) / (slope + worth * first[0])
    if x <= second[1]:
        return x
    taken = worth * (first[0] * first[1] + second[0] * second[1])
    return (start + taken) / (slope + worth * (first[0] + second[0]))


@inlined
def _solve(x: AirExchange, base: Five, weight: float, oil_out: float, drawn: float, surface: Surface) -> Pools:
    """Solve for both pools of the oil; the flows are those of the solution, so that no air is lost."""
    in_tank = (x.tank_release, surface.tank_limit)
    in_line = (x.line_release, surface.line_limit)
    leaving = oil_out + x.drain
    leave, leave_free = leaving / x.oil_mass, leaving / x.reservoir_mass
    fade = 1.0 + weight * (x.rising + x.dissolving + leave_free)
    brought = base[4] + weight * (drawn + x.freed)
    back = weight * (x.dissolving + surface.returning) / fade
    dissolved = _dissolved(
        base[2] + weight * (surface.pull + x.added) + back * brought,
        1.0 + weight * (surface.rate + leave),
        weight * (1.0 - back),
        in_tank,
        in_line,
    )
    released = in_tank[0] * max(0.0, dissolved - in_tank[1]) + in_line[0] * max(0.0, dissolved - in_line[1])
    free = (brought + weight * released) / fade
    through = surface.pull - surface.rate * dissolved + surface.returning * free
    down = drawn + max(0.0, through)
    gone = leave * dissolved + leave_free * free
    back_in_solution = x.dissolving * free
    risen = x.rising * free
    return Pools(
        down,
        drawn + through - risen,
        through + x.added - leave * dissolved - released + back_in_solution,
        drawn + x.freed + released - back_in_solution - risen - leave_free * free,
        gone,
    )


@inlined
def exchange(
    x: AirExchange, air_pressure: float, temperature: float, base: Five, weight: float, air_in: float, oil_out: float
) -> Pools:
    """Return the flows of air between headspace, solution and bubbles of an implicit stage.

    Parameters
    ----------
    x : AirExchange
        Rates of the interval.
    air_pressure : float
        Pressure of the air in the headspace [Pa].
    temperature : float
        Oil temperature [K].
    base : tuple of float
        The five unknowns before the stage; dissolved and free air [kg] stand third and last, headspace air second.
    weight : float
        Weight of the stage's rates [s]; 0 for the rates of an instant.
    air_in, oil_out : float
        Flows through the cap [kg s-1].

    Returns
    -------
    Pools
        Flows; the headspace keeps its floor mass.
    """
    in_equilibrium = x.solubility * x.oil_mass * air_pressure
    spare_flow = max(0.0, base[1] - FLOOR_MASS) / (_EMPTYING_TIME + weight)
    drawn = min(x.drawn_in * air_pressure / (GAS_CONSTANT * temperature), spare_flow)
    tank_limit = max(0.0, in_equilibrium + x.solubility * x.oil_mass * x.threshold)
    line_limit = max(0.0, tank_limit - x.solubility * x.oil_mass * x.line_deficit)
    surface = Surface(x.uptake_rate * in_equilibrium, x.uptake_rate, 0.0, tank_limit, line_limit)
    pools = _solve(x, base, weight, oil_out, drawn, surface)
    most = air_in + spare_flow
    if pools.from_headspace <= most:
        return pools
    return _solve(x, base, weight, oil_out, drawn, Surface(most - drawn, 0.0, x.rising, tank_limit, line_limit))


@compiled
def uptake(x: AirExchange, weight: float) -> float:
    """Return how much more the oil takes up per pressure [kg s-1 Pa-1] in an implicit stage of a weight [s]."""
    return x.uptake_rate * x.solubility * x.oil_mass / (1.0 + weight * x.uptake_rate)
