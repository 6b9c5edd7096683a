"""How a catalogue of an earlier version of the program becomes one of this version."""
