"""One recording by itself."""
