"""The nouns: frozen dataclasses, their errors and their registry. Imports nothing of ours."""
