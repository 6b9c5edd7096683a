"""The command line: parse, call a workflow, show. No arithmetic."""
