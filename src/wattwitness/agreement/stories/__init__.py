"""The stories that could explain a disagreement, one a file; what the ride's data allow and exclude."""
