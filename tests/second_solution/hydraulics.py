"""Feed line, gas at the pump, filling, and the pressure that the steering asks for: docs/physics.md, "Pump, steering,
heat" and "Feed line and pump inlet".
"""

import math
from dataclasses import dataclass

from second_solution.properties import AIR_GAS_CONSTANT, GRAVITY, churchill

LEAST_PORT_PRESSURE = 5e3  # what starves the line, and the chambers
LEAST_CHAMBER_PRESSURE = 1e3
RELIEF_BAND = 3e5  # the last 3 bar below the relief setting


@dataclass
class Flow:
    """What the pump does at one moment."""

    steering_flow: float  # through steering valve and return [m3/s]
    feed_flow: float  # through the feed line
    supply_pressure: float  # absolute [Pa]
    feed_pressure: float
    chamber_pressure: float
    port_gas: float  # volume of gas per volume of oil
    filling: float  # share of the chambers that oil fills
    line_release: float  # air that comes out of the oil in the feed line [kg/kg]
    shaft_power: float
    return_drop: float

    @property
    def bypass_flow(self):
        """From the flow control into the reservoir [m3/s]; one that leads to the pump inlet goes round in the pump."""
        return self.feed_flow - self.steering_flow

    @property
    def inlet_void(self):
        return self.port_gas / (1.0 + self.port_gas)

    @property
    def pump_void(self):
        return 1.0 - self.filling


class Hydraulics:
    """The pump and its lines in one state of the truck.

    Attributes are set once for a state: p pressure in the air space, h oil surface over the outlet in the middle of the
    tank, w speed of the shaft, c_b bubbles and c_d dissolved air per mass of oil.
    """

    def __init__(self, truck, T, p, h, bubbles_per_oil, dissolved_per_oil, channels):
        oil, pump = truck.oil, truck.pump
        self.truck, self.p, self.w, self.load = truck, p, channels.pump_speed, channels.steering_load
        self.bore = truck.feed.bore * channels.bore_share
        self.strainer_drop = truck.feed.strainer_drop * channels.strainer_factor
        self.c_b, self.c_d = bubbles_per_oil, dissolved_per_oil
        self.T = T[0]
        self.rho, self.nu = oil.density(T[0]), oil.viscosity(T[0])
        self.solubility = oil.solubility(T[0])
        self.nu_pump, self.nu_return = oil.viscosity(T[1]), oil.viscosity(T[3])
        self.mu_pump = self.nu_pump * oil.density(T[1])
        self.static = p + self.rho * _head(truck, h, channels.acceleration)
        self.D = pump.displacement / (2.0 * math.pi)
        self.r = self.w / pump.maximum_speed
        self.set_flow = pump.controlled_flow or math.inf

    def solve(self):
        """The flow at which pump, feed line, gas and steering agree."""
        if self.w == 0.0:
            return self._flow(0.0, 1.0)
        most = self.set_flow if self.truck.pump.bypass_routing == "inlet" else self.D * self.w
        if self._port_excess(most) < 0.0:  # the feed line cannot bring it all
            most = _root(self._port_excess, 0.0, most, 1e-6)
        if self._surplus(most) < 0.0:
            most = _root(self._surplus, 0.0, most, 1e-14)
        return self._flow(most, self._needed_filling(most))

    def _port_excess(self, Q):
        return self._port_pressure(self._feed_flow(Q)) - LEAST_PORT_PRESSURE

    def _surplus(self, Q):
        """What the pump brings over a delivered flow; what is led back to its inlet counts as not delivered."""
        return self._chambers(self._feed_flow(Q))[1] * self.D * self.w - self._slip(Q) - Q

    def _slip(self, Q):
        return self.truck.pump.slip_coefficient * self.D * self._pump_rise(Q) / self.mu_pump

    def _needed_filling(self, Q):
        """Filling at a delivered flow; where the line starves the pump it is less than its chambers would take."""
        filling = self._chambers(self._feed_flow(Q))[1]
        if self.set_flow == Q:
            return filling
        return min(filling, (Q + self._slip(Q)) / (self.D * self.w))

    def _passed(self, Q):
        """What the flow control passes on of a delivered flow, to steering and relief valve."""
        return min(Q, self.set_flow)

    def _flow(self, Q, filling):
        q, passed = self._feed_flow(Q), self._passed(Q)
        rise, crossing = self._supply(passed)
        steering = passed * (1.0 - crossing)
        p_port = self._port_pressure(q)
        line = self._released(p_port, q, self._line_volume())
        return Flow(
            steering,
            q,
            self.p + rise,
            p_port,
            self._chambers(q)[0],
            self._gas_volume(self.c_b + line, p_port),
            filling,
            line,
            self._torque(Q, filling) * self.w,
            self._return_drop(steering),
        )

    # --- pressure side

    def _asked(self, Q):
        """Drop of return line, open centre and ram at a flow [Pa]."""
        gear = self.truck.gear
        return self._return_drop(Q) + gear.open_centre_drop * (Q / gear.open_centre_flow) ** 2 + self.load

    def _return_drop(self, Q):
        """Line half viscous and half inertial; filter viscous, with a bypass that takes over smoothly."""
        part = self.truck.return_line
        q, x = Q / part.rated_flow, self.nu_return / part.rated_viscosity
        screen = part.filter_drop * q * x
        screen /= (1.0 + (screen / part.filter_bypass_pressure) ** 4) ** 0.25
        return 0.5 * part.drop * (q * x + q * q) + screen

    def _supply(self, Q):
        """Supply pressure over that of the air space, and the share of the flow that goes over the relief valve."""
        limit = self.truck.pump.relief_pressure
        asked = self._asked(Q) if self.w > 0.0 else 0.0
        u = min(max((asked - limit) / RELIEF_BAND + 1.0, 0.0), 1.0)
        share = u * u * (3.0 - 2.0 * u)
        return asked + share * (limit - asked), share

    def _feed_flow(self, Q):
        """What the feed line brings: less what crosses the relief valve, as the valve is in the pump."""
        passed = self._passed(Q)
        return Q - passed * self._supply(passed)[1]

    def _pump_rise(self, Q):
        """Pressure rise in the pump: supply, and the drop of the flow-control valve."""
        pump, passed = self.truck.pump, self._passed(Q)
        rise = self._supply(passed)[0]
        return rise + pump.control_valve_drop * (passed / self.set_flow) ** 2 if self.set_flow < math.inf else rise

    def _torque(self, Q, filling):
        """Torque of Wilson's form; the part that follows pressure falls with the filling."""
        pump = self.truck.pump
        pressure_part = (1.0 + pump.friction) * filling * self._pump_rise(Q)
        return pump.idle_torque + self.D * (pressure_part + pump.viscous_drag * self.mu_pump * self.w)

    # --- suction side

    def _line_volume(self):
        return 0.25 * math.pi * self.bore**2 * self.truck.feed.length

    def _port_pressure(self, q):
        line = self.truck.feed
        if q == 0.0:
            return self.static
        v = q / (0.25 * math.pi * self.bore**2)
        f = churchill(v * self.bore / self.nu, line.roughness / self.bore)
        dynamic = 0.5 * self.rho * v * v
        n, x = q / line.strainer_rated_flow, self.nu / line.strainer_rated_viscosity
        strainer = 0.5 * self.strainer_drop * (n * x + n * n)
        return self.static - (f * line.length / self.bore + line.loss_coefficient + 1.0) * dynamic - strainer

    def _released(self, p, q, volume):
        """Air that has come out of the oil [kg/kg] after a way of a volume, at the pressure at its end."""
        if self.truck.air.model == "frozen":
            return 0.0
        excess = self.c_d - self.solubility * (p + self.truck.air.release_threshold)
        if excess <= 0.0:
            return 0.0
        return excess * (1.0 - math.exp(-volume / (q * self.truck.air.line_release_time))) if q > 0.0 else excess

    def _gas_volume(self, mass_per_oil, p):
        """Volume of gas per volume of oil, at the temperature of the reservoir."""
        return mass_per_oil * self.rho * AIR_GAS_CONSTANT * self.T / p

    def _chambers(self, q):
        """Pressure in the chambers, and their filling: it sets the loss of the port, that the gas, and gas the filling.

        The loss a (r f)^2 + b r f nu leaves no less than 1 kPa; chambers that would need more of it fill in part.
        """
        pump, p_port = self.truck.pump, self._port_pressure(q)
        way = self._line_volume() + pump.oil_volume
        a, b = pump.port_loss * self.r**2, pump.port_viscous_loss * self.r * self.nu_pump / 1e-4

        def pressure(f):
            return p_port - (a * f + b) * f

        def want(f):
            p = pressure(f)
            return 1.0 / (1.0 + self._gas_volume(self.c_b + self._released(p, q, way), p)) - f

        room = p_port - LEAST_CHAMBER_PRESSURE
        full = 1.0 if a + b <= room else 2.0 * room / (b + math.sqrt(b * b + 4.0 * a * room))
        f = full if want(full) >= 0.0 else _root(want, 0.0, full, 1e-14)
        return pressure(f), f


def _head(truck, h, acceleration):
    """(g - a) . (r_pump - r_surface) [m2/s2], with a surface that stands square to g - a over the outlet."""
    tank, line = truck.reservoir, truck.feed
    forward, left, upward = acceleration
    down = GRAVITY + upward
    over_outlet = h - (forward * tank.outlet_forward + left * tank.outlet_left) / down
    if down < 0.2 * GRAVITY or over_outlet * down < 0.5 * line.bore * math.hypot(down, forward, left):
        raise ValueError("not covered: the outlet takes in gas")
    aside = forward * (tank.outlet_forward + line.pump_forward) + left * (tank.outlet_left + line.pump_left)
    return down * (tank.outlet_height + h) - aside


def _root(function, low, high, enough):
    """Root of a falling function within its bracket: regula falsi with the Illinois weight."""
    f_low, f_high = function(low), function(high)
    if f_low <= 0.0:
        raise ArithmeticError("no root in its bracket")
    side = 0
    for _ in range(200):
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        f = function(middle)
        if abs(f) < enough or high - low < 1e-15 * high:
            return middle
        if f > 0.0:
            low, f_low, f_high, side = middle, f, 0.5 * f_high if side > 0 else f_high, 1
        else:
            high, f_high, f_low, side = middle, f, 0.5 * f_low if side < 0 else f_low, -1
    raise ArithmeticError("no root found")
