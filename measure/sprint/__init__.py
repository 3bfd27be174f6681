"""From a hip path along a lane to marks, splits, speed and turn."""
