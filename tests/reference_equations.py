"""The equations of the march as one plain right-hand side, for general solvers.

Same laws and balances, no splitting: the oil feels the headspace at once and the headspace the oil. Only the
algorithm differs from the march, so agreement tests the march.
"""

from ullage.compiled import compiled
from ullage.kernel.cap import cap_areas
from ullage.kernel.gas_march import Span, gas_problem
from ullage.kernel.headspace import GasSetting, gas_rates, pressure_now, stage_now
from ullage.kernel.heat import balance, fill_matrix
from ullage.kernel.state import COOLER, PUMP, RESERVOIR, STEERING_GEAR
from ullage.kernel.stores import headspace_volume, mass_rate, node_masses
from ullage.numerics.linear import linear_rate
from ullage.physics import oil
from ullage.physics.air import HEAT_CONSTANT_PRESSURE

UNKNOWNS = 8  # four temperatures, N = m T, headspace air, dissolved air, lost oil


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
def right_hand_side(p, s, w, forcing, y, result):
    """Write the rates of the unknowns; modes and engine come from the state record and the channels."""
    temperature = y[:4]
    oil_mass = s.oil_mass - y[7]
    value = (y[4], y[5], y[6], 0.0)
    masses = node_masses(p, forcing.steering_position, oil_mass, temperature)
    b = balance(p, forcing, temperature, s.fan_running, s.cooler_open)
    volume = headspace_volume(p, masses.reservoir, temperature[RESERVOIR])
    rate = w.rate
    rate[:] = 0.0
    power = 0.0
    lost_mass = s.oil_mass
    s.oil_mass = oil_mass
    setting = GasSetting(
        gas_problem(p, s, Span(0.0, 1.0, volume, volume, temperature[0], temperature[0]), forcing, forcing),
        cap_areas(p, s.cap_on, s.relief_open, s.vacuum_open),
    )
    s.oil_mass = lost_mass
    pressure = pressure_now(value, 0.0, setting.problem)
    gas = stage_now(value, 0.0, pressure, setting).gas
    for _ in range(4):
        fill_matrix(p, b, masses, temperature, rate, power, w.middle_matrix, w.middle_source)
        linear_rate(w.middle_matrix, w.middle_source, temperature, rate)
        capacity = (
            masses.reservoir * oil.specific_heat(temperature[RESERVOIR], p.heat_constant, p.heat_slope) + p.tank_metal
        )
        rate[RESERVOIR] *= capacity / (capacity + HEAT_CONSTANT_PRESSURE * y[6])
        steady = _volume_rate(p, masses, temperature, rate)
        span = Span(0.0, 1.0, volume, volume + steady, temperature[RESERVOIR], temperature[RESERVOIR])
        s.oil_mass = oil_mass
        problem = gas_problem(p, s, span, forcing, forcing)
        s.oil_mass = lost_mass
        setting = GasSetting(problem, setting.cap)
        gas = stage_now(value, 0.0, pressure, setting).gas
        rates = gas_rates(gas, problem)
        carried = gas.value[0] / gas.value[1] if gas.uptake > 0.0 else temperature[RESERVOIR]
        stiffness = gas.volume + gas.air_pressure * problem.compliance
        flow_volume = steady + gas.oil_out / problem.oil_density
        pressure_rate = (287.05 * rates[0] - gas.air_pressure * flow_volume) / stiffness
        work = gas.air_pressure * (flow_volume + problem.compliance * pressure_rate)
        power = gas.oil_heat + HEAT_CONSTANT_PRESSURE * (carried - temperature[RESERVOIR]) * gas.uptake + work
    for i in range(4):
        result[i] = rate[i]
        result[4 + i] = rates[i]
    return gas.pressure
