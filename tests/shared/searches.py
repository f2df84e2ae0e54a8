"""A search that looks at next to nothing, for tests of what stands around it.

A plan is legal, sealed and told from the first step of its search on. How good plans are is measured with all steps:
by tests/planning/test_plan.py and tests/planning/search.
"""

from __future__ import annotations

import pytest

from doe.planning.search import exchange, randomise
from doe.planning.search.searches import EVALUATIONS

SHORT_STAGES = ((4, 8), (2, 12), (1, 16), (1, 24))


def short_searches(patch: pytest.MonkeyPatch) -> None:
    """Let every effort look at a few dozen plans in each of its searches, and draw a few orders.

    The stages have to be short as well: no search looks at fewer plans than its first step does.
    """
    for place, effort in enumerate(EVALUATIONS):
        patch.setitem(EVALUATIONS, effort, 120 * 2**place)
    patch.setattr(exchange, "_STAGES", SHORT_STAGES)
    patch.setattr(randomise, "_CHUNK", 100)
    patch.setattr(randomise, "_MOST_DRAWS", 200)
