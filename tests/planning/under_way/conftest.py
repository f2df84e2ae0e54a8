"""What becomes of a day under way hangs on no search: each is a short one."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from searches import short_searches


@pytest.fixture(autouse=True, scope="module")
def few_evaluations() -> Iterator[None]:
    """From the first fixture of a module on."""
    with pytest.MonkeyPatch.context() as patch:
        short_searches(patch)
        yield
