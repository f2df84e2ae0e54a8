"""Reading: a claims file in, a checked and frozen model of the published test out."""
