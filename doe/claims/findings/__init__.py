"""Findings: a published test in, its weak points out, each with its code, weight and reason."""
