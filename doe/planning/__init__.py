"""The planning module: candidate configurations, expected precision of a run order, search, randomisation, the plan.

The clock and the plan file are in ``doe.day``, the numerics in ``doe.stats``. Nothing here reads a pull's value.
"""
