"""Run many rides, on all cores."""
