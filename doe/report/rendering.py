"""Pages from templates: one door, so that no page can forget what must not get out."""

from __future__ import annotations

import json
import re
from typing import Any

import jinja2
from markupsafe import Markup

from doe.words.numbers import finite
from doe.words.visible import visible


def render(template: str, **values: Any) -> str:
    """Return a page as HTML: every value escaped, what can't be seen written out; same values, same page."""
    loader = jinja2.PackageLoader("doe.report", ".")
    environment = jinja2.Environment(loader=loader, autoescape=True, trim_blocks=True, undefined=jinja2.StrictUndefined)
    environment.filters["minus"] = _with_minus_signs
    return visible(environment.get_template(template).render(**values))


def as_data(document: dict[str, Any]) -> Markup:
    """A document as JSON inside a page, which no text in it can end; what is no number there is null."""
    text = json.dumps(finite(document), ensure_ascii=True, separators=(",", ":"), default=str)
    return Markup(text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026"))


def _with_minus_signs(text: str) -> str:
    """Words of the terminal for print: a minus sign in place of the hyphen before a number, ± in place of +-."""
    return re.sub(r"(?<![\w.])-(?=\d)", "−", re.sub(r"(?<!\S)\+- ?(?=\d)", "±", text))
