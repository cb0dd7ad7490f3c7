"""The questions that a builder asks: open the cap, read the gauge, tell one fault from another."""
