"""The report as one page that needs nothing else: offline, without outside references, running only its own script."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from pathlib import Path

from wattwitness.model.chart import Chart
from wattwitness.model.publication import Publication
from wattwitness.model.section import Section
from wattwitness.render.html_blocks import section_html
from wattwitness.render.page_data import charts_data, is_zoomable
from wattwitness.render.saving import save

ASSETS = files("wattwitness.render") / "assets"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """What a page carries beside its words: scripts, styles and the licences of what others wrote."""

    scripts: tuple[str, ...]
    styles: tuple[str, ...]
    licences: tuple[tuple[str, str], ...]


def write_html(publication: Publication, path: Path, *, replace: bool = True) -> None:
    """Write the page in one step. Raises OutputExists, OutputNotWritable."""
    save(page(publication).encode("utf-8"), path, replace=replace)


def page(publication: Publication) -> str:
    """The page as text."""
    return page_of(
        publication.sections,
        title=publication.title,
        kind=publication.kind,
        when=publication.when,
        version=publication.version,
    )


def page_of(sections: tuple[Section, ...], *, title: str, kind: str, when: str, version: str) -> str:
    """A page of sections as text; the first section holds the answer."""
    charts = [block for section in sections for block in section.blocks if isinstance(block, Chart)]
    parts = _parts()
    scripts = "".join(f"<script>{script}</script>\n" for script in parts.scripts)
    styles = "".join(f"<style>{style}</style>\n" for style in parts.styles)
    data = charts_data([chart for chart in charts if is_zoomable(chart)])
    body = "\n".join(section_html(section) for section in sections)
    return f"""<!doctype html>
<html lang="en" data-made-by="wattwitness">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{_policy(parts)}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<meta name="color-scheme" content="light dark">
<meta name="generator" content="wattwitness {escape(version)}">
<title>{escape(title)}</title>
<link rel="icon" href="data:,">
{styles}</head>
<body>
<a class="skip" href="#{escape(sections[0].name)}">Skip to the answer</a>
<header class="top">
<p class="maker">wattwitness <span>{escape(kind)}</span></p>
<h1>{escape(title)}</h1>
<p class="when">{escape(when)}</p>
</header>
<div class="frame">
{_contents(sections)}
<main>
{body}
</main>
</div>
<footer>
<p>Made by wattwitness {escape(version)}, on the tester’s own machine. This page loads nothing and sends \
nothing.</p>
{_licences(parts)}
</footer>
<script type="application/json" id="ride-data">{data}</script>
{scripts}</body>
</html>
"""


def _contents(sections: tuple[Section, ...]) -> str:
    items = "".join(f'<li><a href="#{escape(section.name)}">{escape(section.title)}</a></li>' for section in sections)
    return f'<nav aria-label="On this page"><ul>{items}</ul></nav>'


def _licences(parts: Parts) -> str:
    texts = "".join(f"<h3>{escape(name)}</h3>\n<pre>{escape(text)}</pre>" for name, text in parts.licences)
    return f"<details><summary>Licences of what is inside this page</summary>\n{texts}\n</details>" if texts else ""


def _parts() -> Parts:
    """Ours, and the chart library where it has been built in; without it the panels stay still pictures."""
    vendor = ASSETS / "vendor"
    ours = _read("page.js"), _read("page.css")
    if not (vendor / "uPlot.iife.min.js").is_file():
        return Parts(scripts=(ours[0],), styles=(ours[1],), licences=())
    library = _inline((vendor / "uPlot.iife.min.js").read_text("utf-8"))
    style = (vendor / "uPlot.min.css").read_text("utf-8")
    licence = (vendor / "LICENSE").read_text("utf-8")
    return Parts(scripts=(library, ours[0]), styles=(style, ours[1]), licences=(("uPlot, chart library", licence),))


def _read(name: str) -> str:
    return (ASSETS / name).read_text("utf-8")


def _inline(script: str) -> str:
    """A script that can stand inside a page: nothing in it may look like the end of its element."""
    return script.replace("</", "<\\/")


def _policy(parts: Parts) -> str:
    """Only the scripts and styles of this page, by the hash of their text; nothing from anywhere else."""
    scripts = " ".join(_hash(script) for script in parts.scripts)
    styles = " ".join(_hash(style) for style in parts.styles)
    return (
        f"default-src 'none'; script-src {scripts}; style-src {styles}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"
