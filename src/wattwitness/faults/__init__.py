"""Faults of a meter during a ride: one detector a file, and the witnesses that explain or convict."""
