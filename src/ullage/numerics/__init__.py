"""Methods: they know no physics and no names, and are tested on textbook problems."""
