"""The room of the rider."""
