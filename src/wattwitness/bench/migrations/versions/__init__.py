"""One step a file, each from the revision before it."""
