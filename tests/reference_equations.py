"""The equations of the march as one plain right-hand side, for general solvers.

Same laws and balances, no splitting and no lag: oil, air space, bubbles and pump inlet feel each other at once. Only
the algorithm differs from the march, so agreement tests the march.
"""

from ullage.compiled import compiled
from ullage.kernel.air_exchange import stream_of
from ullage.kernel.cap import cap_areas
from ullage.kernel.gas_march import Span, gas_problem
from ullage.kernel.headspace import GasSetting, gas_rates, stage_now
from ullage.kernel.heat import balance, fill_matrix, node_rates
from ullage.kernel.setting import settle
from ullage.kernel.state import COOLER, PUMP, RESERVOIR, STEERING_GEAR
from ullage.kernel.stores import densities, headspace_volume, mass_rate, node_masses
from ullage.numerics.linear import copy_into
from ullage.physics import oil
from ullage.physics.air import GAS_CONSTANT, HEAT_CONSTANT_PRESSURE

UNKNOWNS = 9  # four temperatures, N = m T, headspace air, dissolved air, lost oil, free air


@compiled
def _volume_rate(p, masses, temperature, rate):
    full = (
        mass_rate(p, masses.pump, temperature[PUMP], rate[PUMP])
        + mass_rate(p, masses.steering_gear, temperature[STEERING_GEAR], rate[STEERING_GEAR])
        + mass_rate(p, masses.cooler, temperature[COOLER], rate[COOLER])
    )
    t = temperature[RESERVOIR]
    density = oil.density(t, p.density_15)
    expansion = oil.expansion_coefficient(t, p.density_15)
    grown = p.tank_volume * p.tank_expansion - masses.reservoir / density * expansion
    return grown * rate[RESERVOIR] + full / density


@compiled
def take_over(p, s, forcing, y, start_oil):
    """Write the unknowns into the state, with the pressure and the surface that belong to them."""
    copy_into(s.temperature, y[:4])
    s.oil_mass = start_oil - y[7]
    s.air_heat, s.air_mass, s.dissolved_air, s.free_air = y[4], y[5], y[6], y[8]
    density = densities(p, s.temperature)
    settle(p, s, forcing, node_masses(p, forcing.steering_position, s.oil_mass, s.temperature, density).reservoir)


@compiled
def right_hand_side(p, s, w, forcing, y, start_oil, result):
    """Write the rates of the unknowns; modes and line come from the state record, the rest of which is overwritten."""
    take_over(p, s, forcing, y, start_oil)
    temperature, here = s.temperature, s.temperature[RESERVOIR]
    value = (y[4], y[5], y[6], 0.0, y[8])
    b = balance(p, s, forcing, temperature)
    masses = node_masses(p, forcing.steering_position, s.oil_mass, temperature, b.density)
    stream = stream_of(s, b.flows, b.supply)
    volume = headspace_volume(p, masses.reservoir, here, oil.density(here, p.density_15))
    rate = w.rate
    rate[:] = 0.0
    power, grown, warming = 0.0, 0.0, 0.0
    rates = value
    pressure = 0.0
    for _ in range(5):
        half = 0.5 * warming
        span = Span(-0.5, 0.5, volume - 0.5 * grown, volume + 0.5 * grown, here - half, here + half)
        problem = gas_problem(p, s, span, forcing, forcing, stream)
        gas = stage_now(value, 0.0, s.air_pressure, GasSetting(problem, cap_areas(p, s))).gas
        pressure = gas.pressure
        rates = gas_rates(gas)
        pools = gas.pools
        # heat of the air that goes down at its own temperature and comes up at the oil's, and the work on the gas
        bubble = GAS_CONSTANT * here / gas.air_pressure
        in_oil = y[8] + s.trapped_air
        pushed = grown + gas.oil_out / problem.oil_density
        swelling = bubble * (rates[4] - problem.exchange.freed + in_oil * warming / here)
        stiffness = gas.volume + gas.air_pressure * problem.compliance + bubble * in_oil
        slope = (GAS_CONSTANT * rates[0] - gas.air_pressure * (pushed - swelling)) / stiffness
        room = pushed - swelling + (problem.compliance + bubble * in_oil / gas.air_pressure) * slope
        work = gas.air_pressure * room
        power = gas.oil_heat + HEAT_CONSTANT_PRESSURE * (gas.value[0] / gas.value[1] - here) * pools.down + work
        fill_matrix(p, forcing, b, masses, temperature, rate, power, w.middle_matrix, w.middle_source)
        node_rates(w.middle_matrix, w.middle_source, temperature, rate)
        capacity = masses.reservoir * oil.specific_heat(here, p.heat_constant, p.heat_slope) + p.tank_metal
        rate[RESERVOIR] *= capacity / (capacity + HEAT_CONSTANT_PRESSURE * (y[6] + in_oil))
        grown = _volume_rate(p, masses, temperature, rate)
        warming = rate[RESERVOIR]
    for i in range(4):
        result[i] = rate[i]
        result[4 + i] = rates[i]
    result[8] = rates[4]
    return pressure
