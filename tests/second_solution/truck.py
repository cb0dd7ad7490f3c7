"""The truck in numbers: what the laws need from a checked scenario, and the state when the cap was shut."""

import math
from dataclasses import dataclass

from second_solution.properties import AIR_GAS_CONSTANT, REFERENCE_PRESSURE, Oil
from ullage.scenario.presets import GRADES

CAP = ("cap off", "cap on")
FAULTS = ("seal leak", "blocked cooler", "blocked strainer", "collapsed hose")
PASSAGE_EXPANSION = 4e-5  # by volume [1/K], of pump, gear and cooler; volumes are those at 20 degC
RESERVOIR, PUMP, STEERING_GEAR, COOLER = range(4)
NAMES = ("mass_temperature", "gas_mass", "dissolved", "bubbles", "exposure", "vented", "admitted")


@dataclass
class State:
    """What changes: temperatures of the nodes, m T and m of the air space, air in the oil and in bubbles, and sums."""

    T: list  # [K], by node
    mass_temperature: float  # [kg K]
    gas_mass: float
    dissolved: float
    bubbles: float
    exposure: float = 0.0  # [s]
    vented: float = 0.0  # through the cap since the start [kg]
    admitted: float = 0.0

    def to_list(self):
        return [*self.T, *(getattr(self, name) for name in NAMES)]

    @classmethod
    def from_list(cls, y):
        return cls(y[:4], *y[4:])


class Truck:
    """Parts of the truck as given, and the oil that is in them."""

    def __init__(self, spec):
        refuse_what_is_not_covered(spec)
        self.reservoir, self.cap, self.pump, self.gear = spec.reservoir, spec.cap, spec.pump, spec.steering_gear
        self.return_line, self.cooler, self.feed, self.air = spec.return_line, spec.cooler, spec.feed_line, spec.air
        self.ring_conductance = spec.surroundings.ring_conductance
        self.oil = Oil(_grade(spec.fluid), spec.fluid)
        self.passages = (0.0, self.pump.oil_volume, self.gear.oil_volume, self.cooler.oil_volume)
        parts = (self.reservoir, self.pump, self.gear, self.cooler)
        self.metal = tuple(part.metal_heat_capacity for part in parts)
        self.oil_mass = self._mass_at_the_mark(spec)

    def tank_volume(self, T):
        return self.reservoir.volume * (1.0 + self.reservoir.expansion * (T - 293.15))

    def passage_volume(self, node, T):
        return self.passages[node] * (1.0 + PASSAGE_EXPANSION * (T - 293.15))

    def full_mass(self, node, T):
        """Oil in a full node [kg], at the reference pressure."""
        return self.oil.density(T) * self.passage_volume(node, T)

    def full_mass_slope(self, node, T):
        """Change of that mass with temperature [kg/K]."""
        expansion = self.oil.density(T) * self.passages[node] * PASSAGE_EXPANSION
        return self.oil.density_slope(T) * self.passage_volume(node, T) + expansion

    def compliance(self, T):
        """How far wall and all oil give way to pressure [m3/Pa], at the temperature of the reservoir."""
        return self.reservoir.compliance + self.oil_mass / (self.oil.density(T) * self.oil.bulk_modulus(T))

    def gas_volume_at_reference(self, T, reservoir_mass):
        """Tank less solid oil [m3] at the reference pressure."""
        return self.tank_volume(T) - reservoir_mass / self.oil.density(T)

    def initial_state(self, T, ambient, spec):
        """Oil at the mark and the fill temperature, brought to the start temperature with the cap off, and shut in."""
        level = spec.start.headspace_pressure
        p = level.absolute(ambient) if level else ambient
        reservoir_mass = self.oil_mass - sum(self.full_mass(node, T) for node in (PUMP, STEERING_GEAR, COOLER))
        V = self.gas_volume_at_reference(T, reservoir_mass) + self.compliance(T) * (p - REFERENCE_PRESSURE)
        dissolved = spec.start.air_saturation * self.oil.solubility(T) * ambient * self.oil_mass
        mT = p * V / AIR_GAS_CONSTANT
        return State([T] * 4, mT, mT / T, dissolved, 0.0)

    def _mass_at_the_mark(self, spec):
        T = spec.reservoir.fill_temperature
        in_tank = spec.reservoir.fill * self.tank_volume(T) * self.oil.density(T)
        return in_tank + sum(self.full_mass(node, T) for node in (PUMP, STEERING_GEAR, COOLER))


def hole(cap, diameter):
    """Flow area of a round hole [m2], with its discharge coefficient."""
    return cap.discharge_coefficient * 0.25 * math.pi * diameter**2


def refuse_what_is_not_covered(spec):
    """Stop where this solution would have to leave something out."""
    wanted = {
        "a sealed cap": spec.cap.kind == "sealed",
        "a relief valve in the pump": spec.pump.relief_location == "pump",
        "coefficients of the pump, not points": spec.pump.flow_point is None and spec.pump.torque_point is None,
        "a ram with equal areas, and no trapped air": spec.steering_gear.rod_volume == spec.start.trapped_air == 0.0,
        "dry oil": spec.fluid.water_content == 0.0,
        "kinetic or frozen air": spec.air.model != "equilibrium",
        "caps and some faults": all(event.action in CAP or event.fault in FAULTS for event in spec.event),
    }
    missing = [name for name, given in wanted.items() if not given]
    if missing:
        raise ValueError("the second solution covers " + ", ".join(missing))


class _Grade:
    def __init__(self, viscosity_40, viscosity_100, density_15):
        self.viscosity_40, self.viscosity_100, self.density_15 = viscosity_40, viscosity_100, density_15


def _grade(fluid):
    preset = GRADES[fluid.preset] if fluid.preset else fluid
    names = ("viscosity_40", "viscosity_100", "density_15")
    return _Grade(*(getattr(fluid, name) or getattr(preset, name) for name in names))
