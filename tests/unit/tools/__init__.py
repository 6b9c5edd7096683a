"""What sets a checkout up."""
