"""Every chart as a file: at 16:9 with letters that a video can show, and at the width of a page's column.

The same results give the same bytes: no date, no random names, the font that comes with the library.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from wattwitness.model.chart import Chart
from wattwitness.model.errors import OutputExists
from wattwitness.model.publication import Publication
from wattwitness.render.figure_drawing import Sheet, draw
from wattwitness.render.glyphs import drawable_tree
from wattwitness.render.inks import Ground
from wattwitness.render.saving import make_folder, save

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MM_PER_INCH = 25.4
PNG_EFFORT = 4  # of 9: files a few percent larger in a third of the time


class Drawing(StrEnum):
    """Formats of lines and letters, sharp at every size."""

    SVG = "svg"
    PDF = "pdf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edition:
    """A size that figures are drawn at, and the files it is written as: pixels per inch of each PNG by its suffix."""

    suffix: str
    sheet: Sheet
    pngs: tuple[tuple[str, float], ...]
    drawings: tuple[Drawing, ...] = (Drawing.SVG,)

    @property
    def files(self) -> tuple[tuple[str, Drawing | float], ...]:
        """The ending of each file's name, and what it is: a drawing, or pixels at so many to the inch."""
        drawings = [(f"{self.suffix}.{kind}", kind) for kind in self.drawings]
        return (*drawings, *((f"{suffix or self.suffix}.png", dots) for suffix, dots in self.pngs))


VIDEO = Edition(
    suffix="-16x9",
    sheet=Sheet(width_in=12.8, height_in=7.2, letter_pt=17, line_pt=2.2),
    pngs=(("-1920x1080", 150.0), ("-3840x2160", 300.0)),
)
COLUMN = Edition(
    suffix="-column",
    sheet=Sheet(width_in=85 / MM_PER_INCH, height_in=None, letter_pt=7, line_pt=0.9),
    pngs=(("", 400.0),),
    drawings=(Drawing.SVG, Drawing.PDF),
)
EDITIONS = (VIDEO, COLUMN)
GROUND_WORDS = {
    Ground.WHITE: "",
    Ground.DARK: "-dark",
    Ground.OVER_LIGHT: "-over-light",
    Ground.OVER_DARK: "-over-dark",
}
STYLE = {
    "font.family": "DejaVu Sans",
    "svg.hashsalt": "wattwitness",
    "svg.fonttype": "path",
    "pdf.fonttype": 42,
    "path.simplify": True,
    "path.simplify_threshold": 0.3,
    "agg.path.chunksize": 20000,
    "axes.unicode_minus": True,
    "text.parse_math": False,
    "text.usetex": False,
}


def write_figures(publication: Publication, folder: Path, *, replace: bool = True) -> tuple[Path, ...]:
    """Draw every chart that has data into ``folder``, which is made if it is missing; return what was written.

    Raises OutputExists, before anything is drawn, where a file of one of the names is there and ``replace`` is not
    given; OutputNotWritable.
    """
    make_folder(folder)
    if not replace:
        for path in (folder / name for name in figure_names(publication.charts)):
            if path.exists():
                raise OutputExists(
                    "There is a figure of that name already.",
                    where=str(path),
                    hint="Name another folder, or ask for the figures to be replaced.",
                )
    written: list[Path] = []
    for name, content in figure_files(publication):
        save(content, folder / name, replace=True)
        written.append(folder / name)
    return tuple(written)


def figure_names(charts: Sequence[Chart], grounds: Sequence[Ground] = (Ground.WHITE,)) -> tuple[str, ...]:
    """The names of the files that charts are written as, in their order."""
    return tuple(
        f"{chart.name}{GROUND_WORDS[ground]}{ending}"
        for chart in charts
        for ground in grounds
        for edition in EDITIONS
        for ending, _ in edition.files
    )


def figure_files(
    publication: Publication, grounds: Sequence[Ground] = (Ground.WHITE,), *, charts: Sequence[Chart] | None = None
) -> Iterator[tuple[str, bytes]]:
    """Charts on every ground in every edition: name and content, one after the other. Default: all there are."""
    about, source = f"{publication.about}\n{publication.origin}", " ".join(publication.small_print)
    for chart in publication.charts if charts is None else charts:
        for ground in grounds:
            for edition in EDITIONS:
                for ending, content in chart_files(chart, edition, about, ground, source=source).items():
                    yield f"{chart.name}{GROUND_WORDS[ground]}{ending}", content


def chart_files(
    chart: Chart, edition: Edition, about: str, ground: Ground = Ground.WHITE, *, source: str = ""
) -> dict[str, bytes]:
    """One chart in one edition, as content by the ending of its file's name: ``.svg``, ``-1920x1080.png``.

    ``source`` is small print that is kept inside each file. Signs without a shape in the font are drawn by name or
    number; in the words kept inside they stand as they are.
    """
    words = {"Title": chart.title, "Description": chart.alt, **({"Source": source} if source else {})}
    with _style():
        figure = draw(drawable_tree(chart), edition.sheet, about=drawable_tree(about), ground=ground)
        return {ending: _bytes(figure, kind, words) for ending, kind in edition.files}


def _bytes(figure: Figure, kind: Drawing | float, words: dict[str, str]) -> bytes:
    """One file's bytes, without a date, with the words for who cannot see it where the format has a place."""
    buffer = io.BytesIO()
    if kind is Drawing.SVG:
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": "wattwitness", **words})
    elif kind is Drawing.PDF:
        about = {"Title": words["Title"], "Subject": words["Description"], "Keywords": words.get("Source", "")}
        made = {"Creator": "wattwitness", "Producer": "wattwitness", "CreationDate": None}
        figure.savefig(buffer, format="pdf", metadata={**about, **made})
    else:
        about = {**words, "Software": "wattwitness"}
        figure.savefig(buffer, format="png", dpi=kind, metadata=about, pil_kwargs={"compress_level": PNG_EFFORT})
    return buffer.getvalue()


@contextmanager
def _style() -> Iterator[None]:
    """The drawing library's settings while we draw, whatever the user's own are; restored after."""
    import matplotlib as mpl

    with mpl.rc_context():
        mpl.rcdefaults()
        for name, value in STYLE.items():
            mpl.rcParams[name] = value  # type: ignore[index]
        yield
