"""One recording without a second meter: the unit's own power against what its cadence and resistance foretell."""
