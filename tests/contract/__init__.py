"""What must hold over every registered thing, every error, every command and every page."""
