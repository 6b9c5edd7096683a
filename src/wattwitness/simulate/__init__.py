"""Rides with a known truth, for the demo, the planner and the tests."""
