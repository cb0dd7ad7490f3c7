"""What has no value from outside: laws that are the project's own, and published values that no law needs."""

# law: what it says instead of a source
OWN_JUDGEMENT = {
    "air.stirred": "a factor of rough ground grows to its full value at 5 m/s; engineering judgement",
    "air.transfer_velocity": "the calm surface times that factor; the values themselves are inputs, and weak",
    "air.shared_pressure": "one mass balance, used by the words about an opened tank, not by the race",
    "bubbles.drawn_in_share": "what the return drags in, below and above the surface; engineering judgement",
    "bubbles.room_for_bubbles": "oil with 30 % of gas takes no more; engineering judgement",
    "cooler.outside_conductance": "grows with the root of speed over 10 m/s; engineering judgement",
    "line.rated_drop": "half viscous and half inertial at its rating point; weak",
    "line.uncovered_share": "an outlet within half a bore of the surface takes in gas; weak",
    "pump.relief_band": "3 bar, or a tenth of a lower setting; common practice in kind",
    "pump.relief_share": "a relief opens over its last 3 bar; common practice in kind, the curve is ours",
    "pump.port_loss": "a velocity head and a laminar part behind the inlet port; no maker's data",
    "valve.laminar_factor": "a finite slope of every orifice at no difference; ours, 20 Pa",
    "valve.lift_share": "a spring valve lifts in proportion, from 3 % on; ours",
    "water.saturation_content": "how much water an oil dissolves grows with an exponent of 3000 K; from memory, weak",
    "water.free_water": "what is over that content",
}

NOT_USED = [
    "Viscosity index (ASTM D2270): made from the two viscosities that are given; no law returns one.",
    "Thermal conductivity, diffusivity and Prandtl number of oil: the conductances are inputs.",
    "Isentropic and high-pressure secant moduli of oil, and the ratio of isentropic to isothermal: the modulus is "
    "isothermal, at low pressure; hand rules of 1.4 and 1.7 GPa are coarser.",
    "Speed of sound in bubbly oil (Wood): pressure waves lie below the sample interval.",
    "Trend of air solubility with temperature: even its sign is unsettled; a key, default none.",
    "Henry constant in megapascal: needs a molar mass of the oil.",
    "Air release after ISO 9120 and its limits in minutes: a test of an oil, with no law behind it.",
    "Correlations for the diffusivity of air in oil: they lie a factor of six apart; diffusivity is an input.",
    "Moist air, dew point, vapour pressure of heavy alkanes: dry oil has next to none below 100 degC.",
    "Compression with an exponent between isothermal and isentropic: the air space has an energy balance of its own.",
    "Sonic conductance after ISO 6358: another form of valve law.",
    "Orifice plates (ISO 5167) and fittings: discharge and loss coefficients are inputs.",
    "Counterflow, parallel flow and coolers with a mixed side: the core is cross-flow, both sides unmixed.",
    "Convection over cylinders and plates, radiation, tubes (Gnielinski), properties of hot air: conductances are "
    "inputs.",
    "Heat in a throttle with the real-liquid term: all pump power is booked as heat, which takes the plain first law.",
    "Horsepower, Btu and the like: the edge of the program, held by its own tests.",
    "Classes of pressure caps, worn caps, vacuum-valve and reseat values: inputs of a scenario.",
    "Clean bubbles, which rise 1.5 times faster: used oil keeps their surface rigid.",
    "Rayleigh collapse and the pressure in small nuclei: no law; surface tension is left out.",
]
