"""Rides with a known truth, and whether it comes back as often as the intervals claim."""
