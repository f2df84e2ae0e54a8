"""Traces of pulls: from an export's text to a clean sweep and the metrics of the pull."""
