"""The day under way: what was made already in, a plan for the rest of it out."""
