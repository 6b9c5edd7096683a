"""The agreement room by itself."""
