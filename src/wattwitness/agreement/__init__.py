"""How far apart two meters are, when, and at what power."""
