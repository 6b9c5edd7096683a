"""How numbers, names and estimates are said. Knows the nouns and nothing else."""
