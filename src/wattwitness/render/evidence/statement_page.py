"""A statement as a page that needs nothing else, and that prints on paper."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from html import escape
from importlib.resources import files

from wattwitness.render.html_blocks import section_html
from wattwitness.sections.statement import Statement

ASSETS = files("wattwitness.render") / "assets"
FOOT = """\
The archive of evidence that this page belongs to holds copies of the recordings, and its README.txt says how to \
verify them and repeat this."""
"""True inside the archive and beside it alike."""


def statement_page(statement: Statement, *, version: str, small_print: Sequence[str]) -> str:
    """The page as text: no script, no outside reference. ``small_print`` is what goes with everything published."""
    style = (ASSETS / "page.css").read_text("utf-8") + (ASSETS / "statement.css").read_text("utf-8")
    digest = base64.b64encode(hashlib.sha256(style.encode("utf-8")).digest()).decode("ascii")
    sections = "\n".join(section_html(section, still=True) for section in statement.sections)
    small = "\n".join(f"<p>{escape(line)}</p>" for line in small_print)
    return f"""<!doctype html>
<html lang="en" data-made-by="wattwitness">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'sha256-{digest}'; img-src data:; \
base-uri 'none'; form-action 'none'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<meta name="color-scheme" content="light dark">
<meta name="generator" content="wattwitness {escape(version)}">
<title>{escape(statement.title)}</title>
<link rel="icon" href="data:,">
<style>{style}</style>
</head>
<body class="statement">
<header class="top">
<p class="maker">wattwitness <span>evidence</span></p>
<h1>{escape(statement.title)}</h1>
<p class="when">{escape(statement.subtitle)}</p>
</header>
<main>
{sections}
</main>
<footer class="small">
{small}
<p>{escape(FOOT)} This page loads nothing and sends nothing.</p>
</footer>
</body>
</html>
"""
