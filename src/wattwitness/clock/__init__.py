"""Recordings onto one clock: offset, drift, pauses; and how each meter responds."""
