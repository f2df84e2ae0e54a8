"""Sentences of the day under way: a pull, what comes next."""
