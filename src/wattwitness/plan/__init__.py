"""Which rides to ride, how many, and what they would decide."""
