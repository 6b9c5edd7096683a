"""The room of claims and decision rules."""
