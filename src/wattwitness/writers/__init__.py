"""A Recording out, as a file."""
