"""Run many rides: on all cores of this machine."""
