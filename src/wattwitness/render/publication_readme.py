"""What lies beside a published page: a list of every file for people, and the same for programs."""

from __future__ import annotations

import hashlib
import json
import textwrap
from collections.abc import Mapping

from wattwitness.model.publication import Publication
from wattwitness.words.numbers import NBSP

WIDTH = 100
LIST = "contents.json"
README = "README.txt"
MADE_BY = "wattwitness publication"
FIGURES = """\
Each chart stands in figures/ under its own name: -16x9.svg and two PNGs at 1920×1080 and 3840×2160 for a film or
slides; -column.svg, .pdf and .png (85 mm wide) for an article. Names with -dark are for a dark screen, with
-over-light and -over-dark without a ground, to be laid over a light or a dark picture."""
TABLES = """\
Each table stands in tables/ twice: .csv for a spreadsheet (UTF-8, comma, decimal point, an empty cell where there is no
value), .md for a text."""
DATA_MARK = """\
Under each figure stands a short mark of the data: the beginning of the SHA-256 of the hashes above, one a line."""


def readme(publication: Publication, about: Mapping[str, str], *, with_names: bool) -> bytes:
    """The list for people; ``about`` says of each file but this one what it is."""
    single = [name for name in about if "/" not in name]
    width = max(map(len, single))
    names = "" if with_names else "\n\n" + _flowing(NO_NAMES_OF_RIDERS if _of_rides(publication) else NO_NAMES)
    csvs = [name for name in about if name.startswith("tables/") and name.endswith(".csv")]
    tables = [f"  {name.removeprefix('tables/').removesuffix('.csv')}: {about[name]}" for name in csvs]
    charts = [f"  {chart.name}: {chart.title}" for chart in publication.charts]
    parts = [
        publication.title,
        f"{publication.kind}; {publication.when}",
        "\n".join(f"{name.ljust(width)}  {about[name]}" for name in single),
        _flowing(FIGURES) + "\n\n" + "\n".join(charts) if charts else "No chart has anything to draw.",
        _flowing(TABLES) + "\n\n" + "\n".join(tables) if tables else "No table has anything to say.",
        "SMALL PRINT",
        "\n".join(_flowing(line) for line in publication.small_print) + names,
        _flowing(DATA_MARK) + f" Here: {publication.data_mark}.",
    ]
    return ("\n\n".join(parts).replace(NBSP, " ") + "\n").encode("utf-8")


NO_NAMES = """\
Meters are called by their role where the tester gave them no name for this purpose; no file is named."""
NO_NAMES_OF_RIDERS = """\
Riders and files are called by number, and meters by their role where the tester gave them no name for this purpose."""


def _of_rides(publication: Publication) -> bool:
    """Whether it is of many rides, which riders may be named for."""
    return publication.kind in ("study", "studies")


def contents(publication: Publication, members: Mapping[str, bytes]) -> bytes:
    """The list for programs: every file but this one with its size and SHA-256."""
    made = {
        "made_by": MADE_BY,
        "version": publication.version,
        "title": publication.title,
        "small_print": list(publication.small_print),
        "files": [
            {"name": name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
            for name, content in members.items()
        ],
    }
    return (json.dumps(made, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def _flowing(text: str) -> str:
    return textwrap.fill(text.replace("\n", " "), WIDTH, break_long_words=False, break_on_hyphens=False)
