"""The bench by its parts."""
