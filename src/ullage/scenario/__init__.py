"""What the user means: specification, presets, checks, and the way to one parameter record."""
