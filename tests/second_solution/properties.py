"""Laws of oil and air: docs/physics.md, "Oil" and "Cap"."""

import math

AIR_GAS_CONSTANT = 287.05  # [J/(kg K)]
AIR_HEAT_CAPACITY = 3.5 * AIR_GAS_CONSTANT  # at constant pressure: a gas of two atoms
ABSOLUTE_ZERO = 273.15
REFERENCE_PRESSURE = 101325.0
GRAVITY = 9.80665

_HEAT_RATIO = 1.4
_CRITICAL_RATIO = (2.0 / (_HEAT_RATIO + 1.0)) ** (_HEAT_RATIO / (_HEAT_RATIO - 1.0))
_LAMINAR_DIFFERENCE = 20.0  # below some 20 Pa the flow through an orifice is linear in the difference


class Oil:
    """One oil: viscosity through its points, density, heat and solubility from its density at 15 degC."""

    def __init__(self, grade, fluid):
        self.density_15 = grade.density_15
        self._root = math.sqrt(grade.density_15 / 999.0)  # relative density 15.6/15.6 degC
        self._bunsen, self._slope = fluid.bunsen_coefficient, fluid.solubility_slope
        self._ageing = fluid.ageing_factor
        warm = _walther((313.15, grade.viscosity_40), (373.15, grade.viscosity_100))
        cold = warm
        if fluid.cold_temperature is not None:
            cold = _walther((fluid.cold_temperature, fluid.cold_viscosity), (313.15, grade.viscosity_40))
        self._warm, self._cold = warm, cold

    def viscosity(self, T):
        """Kinematic viscosity [m2/s], ASTM D341."""
        A, B = self._warm if T >= 313.15 else self._cold
        nu = 10.0 ** (10.0 ** (A - B * math.log10(T))) - 0.7
        return min(self._ageing * nu, 20000.0) * 1e-6

    def density(self, T):
        """Density [kg/m3] at the reference pressure, ASTM D1250, lubricating oils."""
        x = 0.6278 / self.density_15 * (T - 288.15)
        return self.density_15 * math.exp(-x * (1.0 + 0.8 * x))

    def density_slope(self, T):
        """Change of the density with temperature [kg/(m3 K)]."""
        a = 0.6278 / self.density_15
        return -a * (1.0 + 1.6 * a * (T - 288.15)) * self.density(T)

    def bulk_modulus(self, T):
        """Isothermal bulk modulus [Pa], API MPMS 11.2.1M."""
        t, r = T - ABSOLUTE_ZERO, 1e-3 * self.density_15
        F = 1e-6 * math.exp(-1.62080 + 0.00021592 * t + 0.87096 / r**2 + 0.0042092 * t / r**2)  # [1/kPa]
        return 1e3 / F

    def heat_capacity(self, T):
        """Specific heat [J/(kg K)], Cragoe 1929."""
        return (1684.8 + 3.3913 * (T - ABSOLUTE_ZERO)) / self._root

    def enthalpy(self, T):
        """Integral of the specific heat from 0 degC [J/kg]."""
        t = T - ABSOLUTE_ZERO
        return (1684.8 * t + 0.5 * 3.3913 * t * t) / self._root

    def bunsen(self, T):
        """Volume of air at 0 degC and its own pressure that saturates a volume of oil at 15 degC."""
        return self._bunsen * (1.0 + self._slope * (T - 293.15))

    def solubility(self, T):
        """Air that saturates the oil [kg/(kg Pa)], Henry."""
        return self.bunsen(T) / (AIR_GAS_CONSTANT * ABSOLUTE_ZERO * self.density_15)

    def ostwald(self, T):
        """Volume of air at the temperature of the oil that saturates a volume of oil."""
        return self.bunsen(T) * T / ABSOLUTE_ZERO


def _walther(cold, hot):
    """Constants A and B of log log (nu + 0.7) = A - B log T through two points of kelvin and m2/s."""
    (T1, n1), (T2, n2) = cold, hot
    W1, W2 = (math.log10(math.log10(1e6 * n + 0.7)) for n in (n1, n2))
    B = (W1 - W2) / (math.log10(T2) - math.log10(T1))
    return W1 + B * math.log10(T1), B


def orifice_flow(area, p1, T1, p2, T2):
    """Air through an opening [kg/s], positive from 1 to 2: Saint-Venant and Wantzel, linear at small differences."""
    if p2 > p1:
        return -orifice_flow(area, p2, T2, p1, T1)
    g, r, d = _HEAT_RATIO, max(p2 / p1, _CRITICAL_RATIO), p1 - p2
    shape = 2.0 * g / ((g - 1.0) * AIR_GAS_CONSTANT * T1) * (r ** (2.0 / g) - r ** ((g + 1.0) / g))
    return area * p1 * math.sqrt(max(shape, 0.0)) * (d * d / (d * d + _LAMINAR_DIFFERENCE**2)) ** 0.25


def churchill(Re, roughness):
    """Darcy friction factor in all regimes, Churchill 1977; roughness over bore."""
    A = (2.457 * math.log(1.0 / ((7.0 / Re) ** 0.9 + 0.27 * roughness))) ** 16
    B = (37530.0 / Re) ** 16
    return 8.0 * ((8.0 / Re) ** 12 + (A + B) ** -1.5) ** (1.0 / 12.0)


def rise_velocity(diameter, viscosity):
    """Terminal velocity of a bubble [m/s]: Stokes, with the drag of Schiller and Naumann; its own weight left out."""
    stokes = GRAVITY * diameter**2 / (18.0 * viscosity)
    w = stokes
    for _ in range(60):
        Re = w * diameter / viscosity
        drag = 1.0 + 0.15 * Re**0.687
        slope = 1.0 + 0.15 * 1.687 * Re**0.687
        step = (w * drag - stokes) / slope
        w -= step
        if abs(step) < 1e-12 * w:
            return w
    raise ArithmeticError("no terminal velocity found")


def cross_flow_effectiveness(N, C):
    """Cross-flow, both unmixed, the usual approximation of Kays and London; N transfer units, C capacity ratio."""
    return 1.0 - math.exp(N**0.22 / C * (math.exp(-C * N**0.78) - 1.0))
