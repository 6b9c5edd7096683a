"""The bench: a folder that keeps a tester's recordings byte for byte, and a catalogue of rides and their figures."""
