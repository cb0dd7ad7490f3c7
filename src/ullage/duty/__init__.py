"""The race duty cycle: lap table, stops and timed events become channels on one clock."""
