"""Laws written once more from their sources: what a race is held against must not be the race's own code."""

import math
from typing import NamedTuple

from chemicals import iapws95_Psat
from fluids.atmosphere import ATMOSPHERE_1976

AIR = 287.05287  # ISO 2533 [J kg-1 K-1]
HEAT_RATIO = 1.4
GRAVITY = 9.80665
SEA_LEVEL = 101325.0
PSI = 6894.757293168361
ZERO = 273.15
PASSAGES = 4e-5  # volume expansion of pump, gear and cooler, the same in every truck [K-1]


def density(temperature, at_15=870.0):
    """API MPMS 11.1, lubricating oils: K0 = 0 and K1 = 0.6278."""
    alpha = 0.6278 / at_15
    step = temperature - ZERO - 15.0
    return at_15 * math.exp(-alpha * step - 0.8 * alpha**2 * step**2)


def expansion(temperature, at_15=870.0):
    """Central difference of the density."""
    rise = density(temperature - 0.01, at_15) - density(temperature + 0.01, at_15)
    return rise / 0.02 / density(temperature, at_15)


def compressibility(temperature, at_15=870.0):
    """API MPMS 11.2.1M (1984): the factor F in 1/GPa, density in kg/L."""
    celsius, litre = temperature - ZERO, at_15 / 1000.0
    exponent = -1.62080 + 0.00021592 * celsius + 0.87096 / litre**2 + 0.0042092 * celsius / litre**2
    return math.exp(exponent) * 1e-9


def viscosity(temperature, at_40=34.0, at_100=7.3):
    """ASTM D341 in decimal logarithms, mm2/s in, m2/s out."""

    def ordinate(value):
        return math.log10(math.log10(value + 0.7))

    share = math.log10(temperature / 313.15) / math.log10(373.15 / 313.15)
    line = ordinate(at_40) + share * (ordinate(at_100) - ordinate(at_40))
    return (10.0 ** (10.0**line) - 0.7) * 1e-6


def specific_heat(temperature, at_15=870.0):
    """Cragoe (1929) in its own units: (0.388 + 0.00045 F) / sqrt(d) Btu/(lb F)."""
    fahrenheit = 1.8 * (temperature - ZERO) + 32.0
    return 4186.8 * (0.388 + 0.00045 * fahrenheit) / math.sqrt(at_15 / 999.0)


def ambient(elevation):
    """US standard atmosphere 1976, the same as ISO 2533 here."""
    return ATMOSPHERE_1976(elevation).P


def ostwald(temperature, bunsen=0.09):
    """Volume of air at the oil's temperature that a volume of oil (at 15 degC) holds."""
    return bunsen * temperature / ZERO


def vapour(temperature, content, at_20=1e-4):
    """IAPWS-95 times content over saturation content, no more than one; the content's exponent is 3000 K."""
    activity = min(1.0, content / (at_20 * math.exp(3000.0 / 293.15 - 3000.0 / temperature)))
    return activity * iapws95_Psat(temperature)


class Vessel(NamedTuple):
    """A tank with its circuit, SI units; the values are those of the test truck."""

    tank: float = 7.6e-3
    fill: float = 0.8
    passages: float = 3.5e-3
    wall: float = 2e-10
    expansion: float = 7.1e-5
    filled_at: float = 293.15

    def room(self, temperature):
        return self.tank * (1.0 + self.expansion * (temperature - 293.15))

    def full(self, temperature):
        """Oil in pump, gear and cooler [kg]."""
        return self.passages * (1.0 + PASSAGES * (temperature - 293.15)) * density(temperature)

    def oil(self):
        """Oil in all, filled to the mark [kg]."""
        return self.fill * self.room(self.filled_at) * density(self.filled_at) + self.full(self.filled_at)

    def level_volume(self, temperature, more=0.0):
        """Oil in the tank [m3], with some kilograms more or less."""
        return (self.oil() + more - self.full(temperature)) / density(temperature)

    def air_volume(self, temperature, more=0.0):
        """Room above the oil at the reference pressure [m3]."""
        return self.room(temperature) - self.level_volume(temperature, more)

    def compliance(self, temperature, more=0.0):
        return self.wall + (self.oil() + more) / density(temperature) * compressibility(temperature)

    def air_amount(self, temperature, pressure, vapour_pressure=0.0):
        """`m R` of the air shut in at a total pressure [J/K]."""
        yielding = self.compliance(temperature) * (pressure - SEA_LEVEL)
        return (pressure - vapour_pressure) * (self.air_volume(temperature) + yielding) / temperature

    def pressure(self, temperature, amount, vapour_pressure=0.0):
        """Total pressure of that air at another temperature: positive root of `p (V + C (p + v - p0)) = m R T`."""
        yielding = self.compliance(temperature)
        volume = self.air_volume(temperature) + yielding * (vapour_pressure - SEA_LEVEL)
        return (math.sqrt(volume**2 + 4.0 * yielding * amount * temperature) - volume) / (
            2.0 * yielding
        ) + vapour_pressure
