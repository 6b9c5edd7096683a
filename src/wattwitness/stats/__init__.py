"""The few statistical tools that the rooms above share: arrays in, numbers out."""
