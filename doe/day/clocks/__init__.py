"""The two clocks of a machine, and the day's own time that follows from them."""
