"""The compiled model: the only place where laws meet methods. No exceptions, no allocation, no names of files."""
