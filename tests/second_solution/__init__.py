"""A second solution of the model of docs/physics.md, written from that page and not from the library's source.

Slow and plain: scalar Python for the laws, SciPy's LSODA between events, no Newton scheme of its own. Of the library it
takes the checked scenario, the oil presets and the table of the duty cycle. Read it beside docs/physics.md:

    properties.py   oil, and the flow of air through an orifice
    truck.py        numbers of the truck from a scenario, and the state at the start
    hydraulics.py   feed line, gas at the pump, filling, supply pressure
    air_in_oil.py   ways of the air in and out of the oil
    balances.py     heat, oil and air: what changes how fast
    march.py        valves, fan, thermostat, and the march over the race
    comparison.py   the differences to a run of the library

Where the page left a choice (some thirty: shapes of laws, reference temperatures, what counts from where), the
results of the library showed which it had taken, and the page says so now. So agreement proves that page and
library are one; it is no second opinion on those choices, nor on anything that the page says. The state at the
start and the arguments of the compliance had been seen in the library's source (ullage.scenario.circuit) and are
not independent either.

Covered is a truck with a sealed cap on dry oil, with kinetic or frozen air, with the relief valve in the pump, whose
outlet stays under oil and whose cap passes no oil; of the faults leaks and blockages. What is not covered is refused.
"""
