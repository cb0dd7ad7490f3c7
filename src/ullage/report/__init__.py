"""Pictures of a race, drawn from its Dataset alone."""
