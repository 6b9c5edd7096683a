"""The room that runs many rides."""
