"""What a unit does to the rider: zones, threshold, ranking, detectable change."""
