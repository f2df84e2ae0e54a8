"""Long searches of the days in tests/planning/days: what the planner is measured against there.

Run from the repository's root; takes about half an hour on one core:

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/long_searches.py

Writes tests/planning/long_searches.json: for each day the most questions settled by any searched plan, before its order
was drawn, evaluated pull by pull. A best known, not a proven optimum.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from doe.day.files.dayfile import read_day_file
from doe.planning.drawn.exact import exact, runs_of
from doe.planning.search.searches import both_kinds, search_both

DAYS = Path(__file__).parents[1] / "planning" / "days"
SEEDS = (101, 102, 103)


def best_of(path: Path) -> dict[str, object]:
    """The best plan of the long searches of one day."""
    single, mixed = both_kinds(read_day_file(path))
    best: dict[str, object] = {"settled": -1.0}
    for seed in SEEDS:
        searched = search_both(single, mixed, seed=seed, effort="long")
        for arrays, found in ((searched.single, searched.alone), (searched.mixed, searched.crossed)):
            if found is None:
                continue
            settled = exact(arrays, runs_of(arrays, found.plan)).settled
            if settled > float(str(best["settled"])):
                stints = arrays.stints(found.plan.order[0], found.plan.pulls[0], found.plan.fresh[0])
                best = {
                    "settled": settled,
                    "seed": seed,
                    "stints": [{"configuration": stint.configuration, "pulls": stint.pulls} for stint in stints],
                }
    return best


def main() -> None:
    """Search every day, or those named."""
    out = DAYS.parent / "long_searches.json"
    known = json.loads(out.read_text(encoding="utf-8")) if out.exists() else {}
    for path in sorted(DAYS.glob("*.toml")):
        if sys.argv[1:] and path.stem not in sys.argv[1:]:
            continue
        known[path.stem] = best_of(path)
        print(path.stem, round(known[path.stem]["settled"], 4), flush=True)
        out.write_text(json.dumps(known, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
