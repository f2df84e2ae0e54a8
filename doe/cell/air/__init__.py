"""The air at the engine's inlet, and the correction of power to a standard's air."""
