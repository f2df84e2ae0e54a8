"""The pages on planning: the tester's is short and begins with a picture, and what it tells to type exists."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

from doe.cli import app

DOCS = Path(__file__).parents[3] / "docs"
PAGES = ("planning.md", "planning-details.md", "planning-costs.md")
MOST_WORDS = 1000  # what a tester reads beside a warm engine


def text_of(page: str) -> str:
    return (DOCS / page).read_text(encoding="utf-8")


def test_the_testers_page_is_short_and_begins_with_a_picture() -> None:
    text = text_of("planning.md")
    assert len(text.split()) <= MOST_WORDS
    before, picture, behind = re.split(r"!\[[^\]]+\]\(([^)]+)\)", text)
    assert len(before.split()) < 80 and "invented data" in behind
    assert (DOCS / picture).is_file()


@pytest.mark.parametrize("page", PAGES)
def test_every_option_that_is_typed_on_a_page_exists(page) -> None:
    commands = typer.main.get_command(app).commands
    for name, words in re.findall(r"doe (\w+)\b([^\n|'`]*)", text_of(page)):
        if name not in commands:
            continue
        known = {option for one in commands[name].params for option in (*one.opts, *one.secondary_opts)}
        assert set(re.findall(r"--[a-z-]+", words)) <= known, (name, words)


@pytest.mark.parametrize("page", PAGES)
def test_every_link_leads_somewhere(page) -> None:
    for file, anchor in re.findall(r"\]\(([\w./-]*\.md)(?:#([\w-]+))?\)", text_of(page)):
        headings = [re.sub(r"[^\w -]", "", line.strip("# ")) for line in text_of(file).splitlines() if line[:1] == "#"]
        assert not anchor or anchor in [heading.lower().replace(" ", "-") for heading in headings], (file, anchor)
