"""Time and memory of the main job, as ratios against what a competent user would script with general libraries."""
