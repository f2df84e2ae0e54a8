"""The analysis module: from pulls to verdicts, and what the day says about its own noise.

Which interval each change gets, the family, the verdict rule, what would settle it. The numerics are in ``doe.stats``,
the files in ``doe.day``; pictures and pages are in ``doe.report``.
"""
