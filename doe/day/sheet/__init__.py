"""The run sheet: what stands on it, and what a filled-in one says. Loads nothing heavy."""
