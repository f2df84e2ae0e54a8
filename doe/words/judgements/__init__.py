"""Sentences about judgements: the verdicts of a day, what they rest on, many outcomes."""
