"""What a day takes: the parts and fluids that must lie ready, and what they and the hours cost."""
