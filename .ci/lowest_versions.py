"""Print the lowest versions that pyproject.toml allows, as a constraints file for pip."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

BOUND = re.compile(r"(?P<name>[A-Za-z0-9._-]+)>=(?P<version>[0-9.]+)(?P<where>\s*;.*)?")


def lowest(requirement: str) -> str:
    """`name>=1.2; marker` as `name==1.2; marker`; anything but one lower bound is refused."""
    found = BOUND.fullmatch(requirement)
    if not found:
        raise SystemExit(f"pyproject.toml: {requirement!r}: expected one lower bound, such as 'numpy>=1.26'")
    return f"{found['name']}=={found['version']}{found['where'] or ''}"


def main() -> None:
    """Print one line a dependency, those of the extras that users install too."""
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    for requirement in [*project["dependencies"], *extras["cluster"], *extras["sheet"]]:
        print(lowest(requirement))


if __name__ == "__main__":
    main()
