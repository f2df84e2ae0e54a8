"""Gain curves: where in the range a change gains, with a band that holds at all rpm at once."""
