"""The equations of the march as one plain right-hand side, for general solvers.

Same laws and balances, no splitting and no lag: oil, air space, bubbles and pump inlet feel each other at once. Only
the algorithm differs from the march, so agreement tests the march. Not covered: oil poured in or drained, air trapped
in the hoses, gas in the feed line and the inertia of its oil; they rest as the state record has them.
"""

from ullage.compiled import compiled
from ullage.kernel.air_exchange import stream_of
from ullage.kernel.cap import cap_areas
from ullage.kernel.gas_march import Span, gas_problem
from ullage.kernel.gas_stage import stage_now
from ullage.kernel.headspace import GasSetting, gas_rates
from ullage.kernel.heat import balance, cooler_heat, fill_matrix, node_rates, surroundings_heat
from ullage.kernel.setting import settle
from ullage.kernel.state import COOLER, PUMP, RESERVOIR, STEERING_GEAR
from ullage.kernel.stores import densities, mass_rate, node_masses
from ullage.numerics.linear import copy_into
from ullage.physics import oil
from ullage.physics.air import HEAT_CONSTANT_PRESSURE, HEAT_CONSTANT_VOLUME

UNKNOWNS = 9  # four temperatures, N = m T, headspace air, dissolved air, lost oil, free air
PASSES = 3  # of the feedback between oil and air space: then the rates are right to the last digits


@compiled
def _mass_rates(p, masses, temperature, rate):
    """Return how fast the oil in pump, gear and cooler changes [kg s-1]."""
    return (
        mass_rate(p, masses.pump, temperature[PUMP], rate[PUMP]),
        mass_rate(p, masses.steering_gear, temperature[STEERING_GEAR], rate[STEERING_GEAR]),
        mass_rate(p, masses.cooler, temperature[COOLER], rate[COOLER]),
    )


@compiled
def _volume_rate(p, masses, changes, t, warming):
    """Return how fast the room above the oil grows as the oil's temperatures change [m3 s-1]."""
    density = oil.density(t, p.density_15)
    expansion = oil.expansion_coefficient(t, p.density_15)
    grown = p.tank_volume * p.tank_expansion - masses.reservoir / density * expansion
    return grown * warming + (changes[0] + changes[1] + changes[2]) / density


@compiled
def _store_rate(p, mass, mass_change, metal, temperature, rate):
    """Return the rate of a node's energy [W] from those of its oil [kg s-1] and temperature [K s-1]."""
    capacity = mass * oil.specific_heat(temperature, p.heat_constant, p.heat_slope) + metal
    return mass_change * oil.enthalpy(temperature, p.heat_constant, p.heat_slope) + capacity * rate


@compiled
def _oil_rates(p, w, forcing, b, masses, temperature):
    """Renew the rates in the scratch record; those at hand give what the full nodes push out as they expand."""
    fill_matrix(p, forcing, b, masses, temperature, w.rate, 0.0, w.middle_matrix, w.middle_source)
    node_rates(w.middle_matrix, w.middle_source, temperature, w.rate)


@compiled
def _reservoir_rate(p, s, masses, changes, gas, rate, power):
    """Return the rate of the reservoir's temperature that closes the energy of all oil, gaining a power [W]."""
    temperature, here = s.temperature, s.temperature[RESERVOIR]
    in_pump, in_gear, in_cooler = changes
    full = (
        _store_rate(p, masses.pump, in_pump, p.pump_metal, temperature[PUMP], rate[PUMP])
        + _store_rate(p, masses.steering_gear, in_gear, p.gear_metal, temperature[STEERING_GEAR], rate[STEERING_GEAR])
        + _store_rate(p, masses.cooler, in_cooler, p.cooler_metal, temperature[COOLER], rate[COOLER])
    )
    out = -gas.oil_out - in_pump - in_gear - in_cooler
    brought = HEAT_CONSTANT_PRESSURE * here * (gas.pools.dissolved_rate + gas.pools.free_rate)
    metal = p.tank_metal + HEAT_CONSTANT_PRESSURE * (s.dissolved_air + s.free_air + s.trapped_air)
    moved = _store_rate(p, masses.reservoir, out, metal, here, 0.0)
    return (power - full - brought - moved) / _store_rate(p, masses.reservoir, 0.0, metal, here, 1.0)


@compiled
def _given_up(p, gas, forcing, here):
    """Return the power that the oil gains from its air space, less what leaves with oil and air [W]."""
    temperature = gas.value[0] / gas.value[1]
    cap = HEAT_CONSTANT_PRESSURE * (temperature * gas.air_out - forcing.ambient_temperature * gas.air_in)
    lost = gas.oil_out * oil.enthalpy(here, p.heat_constant, p.heat_slope)
    lost += gas.pools.lost * HEAT_CONSTANT_PRESSURE * here
    return -gas.heat.wall_heat - cap - lost - HEAT_CONSTANT_VOLUME * gas.heat.rate


@compiled
def take_over(p, s, forcing, y, start_oil):
    """Write the unknowns into the state, with pressure and surface; return the oil in the nodes."""
    copy_into(s.temperature, y[:4])
    s.oil_mass = start_oil - y[7]
    s.air_heat, s.air_mass, s.dissolved_air, s.free_air = y[4], y[5], y[6], y[8]
    density = densities(p, s.temperature)
    masses = node_masses(p, forcing.steering_position, s.oil_mass, s.temperature, density)
    settle(p, s, forcing, masses.reservoir)
    return masses


@compiled
def right_hand_side(p, s, w, forcing, y, start_oil, passes, result):
    """Write the rates of the unknowns; modes and line come from the state record, the rest of which is overwritten."""
    masses = take_over(p, s, forcing, y, start_oil)
    temperature, here = s.temperature, s.temperature[RESERVOIR]
    value = (y[4], y[5], y[6], 0.0, y[8])
    volume = s.clear_volume
    b = balance(p, s, forcing, temperature)
    stream = stream_of(s, b.flows, b.supply)
    power = b.flows.shaft_power - b.flows.ram_power - cooler_heat(b, temperature) - surroundings_heat(p, b, temperature)
    rate = w.rate
    rate[:] = 0.0
    _oil_rates(p, w, forcing, b, masses, temperature)
    pressure, rates = 0.0, value
    for _ in range(passes):
        warming = rate[RESERVOIR]
        _oil_rates(p, w, forcing, b, masses, temperature)
        rate[RESERVOIR] = warming
        changes = _mass_rates(p, masses, temperature, rate)
        grown, half = _volume_rate(p, masses, changes, here, warming), 0.5 * warming
        span = Span(-0.5, 0.5, volume - 0.5 * grown, volume + 0.5 * grown, here - half, here + half)
        problem = gas_problem(p, s, span, forcing, forcing, stream)
        gas = stage_now(value, 0.0, s.air_pressure, GasSetting(problem, cap_areas(p, s))).gas
        pressure, rates = gas.pressure, gas_rates(gas)
        rate[RESERVOIR] = _reservoir_rate(p, s, masses, changes, gas, rate, power + _given_up(p, gas, forcing, here))
    for i in range(4):
        result[i] = rate[i]
        result[4 + i] = rates[i]
    result[8] = rates[4]
    return pressure
