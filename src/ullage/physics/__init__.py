"""Laws: one law, one short scalar function, SI in and out, with its source. No arrays, no state."""
