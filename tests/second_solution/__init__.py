"""A second solution of the model of docs/physics.md, written from that page and not from the library's source.

Slow and plain: scalar Python for the laws, SciPy's LSODA between events, no Newton scheme of its own. Of the library it
takes two inputs, the checked scenario and the table of the duty cycle. Read it beside docs/physics.md:

    properties.py   oil, air and the flow of air through an orifice
    truck.py        numbers of the truck from a scenario, and the state at the start
    hydraulics.py   feed line, gas at the pump, filling, supply pressure
    balances.py     heat, oil and air: what changes how fast
    march.py        valves, fan, and the march over the race
    comparison.py   the differences to a run of the library

Covered is a truck with a sealed cap on dry oil, with kinetic air, on its wheels, without faults and top-ups, with the
relief valve in the pump, whose pump does not starve and whose cap passes no oil. What is not covered is refused.
"""
