"""Time and memory, each against a script that a competent user would write with general libraries alone."""
