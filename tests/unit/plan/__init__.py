"""The room of studies."""
