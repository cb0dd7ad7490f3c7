"""The closed list of units, without prefixes, in the definition language of pint.

A general registry reads `5 cfm` as centifermi, `99 C` as coulomb and `5 Min` as millions of inches without a word.
"""

from __future__ import annotations

import re

NUMBER_AND_UNIT = re.compile(
    r"([-+]?(?:[0-9]++\.?[0-9]*+|\.[0-9]++)(?:[eE][-+]?[0-9]++)?)(?![,:.])\s*(.*)",
)

DEFINITIONS = """
meter = [length] = m = metre
second = [time] = s = sec
kilogram = [mass] = kg
kelvin = [temperature] = K = degC
radian = []  = rad
micrometer = 1e-6 meter = um
millimeter = 0.001 meter = mm
centimeter = 0.01 meter = cm
kilometer = 1000 meter = km
inch = 0.0254 meter = in
foot = 12 inch = ft
yard = 3 foot = yd
mile = 5280 foot = mi
millisecond = 0.001 second = ms
minute = 60 second = min
hour = 60 minute = h = hr
day = 24 hour = d
hertz = 1 / second = Hz
kilohertz = 1000 hertz = kHz
gram = 0.001 kilogram = g
pound = 0.45359237 kilogram = lb
s2 = second ** 2
m2 = meter ** 2
cm2 = centimeter ** 2
mm2 = millimeter ** 2
in2 = inch ** 2
ft2 = foot ** 2
m3 = meter ** 3
cm3 = centimeter ** 3 = cc
mm3 = millimeter ** 3
in3 = inch ** 3
ft3 = foot ** 3
liter = 1e-3 meter ** 3 = L = l = litre
milliliter = 1e-6 meter ** 3 = mL = ml
gallon = 231 inch ** 3 = gal
quart = gallon / 4 = qt
standard_gravity = 9.80665 meter / second ** 2 = gn
newton = kilogram * meter / second ** 2 = N
joule = newton * meter = J
kilojoule = 1000 joule = kJ
watt = joule / second = W
kilowatt = 1000 watt = kW
pascal = newton / meter ** 2 = Pa
kilopascal = 1000 pascal = kPa
megapascal = 1e6 pascal = MPa
bar = 1e5 pascal
millibar = 100 pascal = mbar
atm = 101325 pascal
pound_force = 4.4482216152605 newton = lbf
psi = pound_force / inch ** 2
inHg = 3386.389 pascal
horsepower = 745.6998715822702 watt = hp
btu = 1055.05585262 joule = BTU = Btu
fahrenheit_step = 5 / 9 kelvin = degF
revolution = 6.283185307179586 radian = rev
rpm = revolution / minute
gpm = gallon / minute
lpm = liter / minute
mph = mile / hour
kph = kilometer / hour
knot = 1852 meter / hour
centistokes = 1e-6 meter ** 2 / second = cSt
"""
