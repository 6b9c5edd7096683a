"""A file in, Recordings out. One format a file."""
