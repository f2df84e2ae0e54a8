"""Pulls whose number comes from a trace: the dyno's exports on their way into the log."""
