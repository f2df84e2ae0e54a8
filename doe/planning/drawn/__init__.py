"""The plan as drawn: an order in, runs on the clock, promises, comparisons and documents out."""
