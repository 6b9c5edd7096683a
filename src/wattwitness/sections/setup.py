"""What was found in the setup on record of the meters."""

from __future__ import annotations

from wattwitness.model.comparison import Comparison
from wattwitness.model.recording import Notice, Severity
from wattwitness.model.section import Paragraph, Section, Tone
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import typeset

NAME = "setup"
TITLE = "How the meters were set up"
LONGEST_MESSAGE = 500


def build(comparison: Comparison) -> Section | None:
    """Every finding once, warnings first; none where no meter is described."""
    found: dict[tuple[str, str], Notice] = {}
    for pair in comparison.pairs:
        for notice in pair.setup_findings:
            found.setdefault((notice.slug, notice.message), notice)
    if not found:
        return None
    ordered = sorted(found.values(), key=lambda notice: notice.severity is not Severity.WARNING)
    return Section(name=NAME, title=TITLE, blocks=tuple(_paragraph(notice) for notice in ordered))


def _paragraph(notice: Notice) -> Paragraph:
    tone = Tone.WARNING if notice.severity is Severity.WARNING else Tone.NOTE
    return Paragraph(text=sentence_start(clean(typeset(notice.message), longest=LONGEST_MESSAGE)), tone=tone)
