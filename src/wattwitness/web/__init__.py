"""The bench in a browser: one process on this machine's own address. Parses, calls a workflow, shows."""
