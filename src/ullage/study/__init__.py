"""Parameter studies: many races from one file."""
