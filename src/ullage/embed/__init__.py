"""Inside other design tools: step by step, as a unit of co-simulation, as a function of a vector."""
