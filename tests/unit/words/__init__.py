"""What is shown, piece by piece."""
