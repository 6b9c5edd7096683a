"""The main job held against published tables and worked examples, each with its source."""
