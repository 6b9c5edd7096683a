"""What was wrong in the files or should be known of a result."""

from __future__ import annotations

from wattwitness.model.comparison import Comparison
from wattwitness.model.recording import Notice, Severity
from wattwitness.model.section import Paragraph, Section, Tone
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean
from wattwitness.words.numbers import typeset
from wattwitness.words.parts import PARTS

NAME = "notices"
TITLE = "Notices"
LONGEST_MESSAGE = 400


def build(comparison: Comparison) -> Section | None:
    """Every notice once, warnings first; no section where there is none."""
    seen: dict[tuple[str, str, str], Notice] = {}
    for pair in (*comparison.pairs, *comparison.between_units):
        for notice in (*pair.notices, *pair.reference.notices, *pair.unit.notices):
            seen.setdefault((notice.slug, notice.message, notice.about), notice)
    if not seen:
        return None
    ordered = sorted(seen.values(), key=lambda notice: notice.severity is not Severity.WARNING)
    return Section(name=NAME, title=TITLE, blocks=tuple(_paragraph(notice) for notice in ordered))


def _paragraph(notice: Notice) -> Paragraph:
    """``about: message (samples)``; text from files is made harmless."""
    about = clean(PARTS.get(notice.about, notice.about))
    message = typeset(clean(notice.message, longest=LONGEST_MESSAGE))
    if notice.samples and str(notice.samples) not in message.replace(",", ""):
        message = f"{message} ({counted(notice.samples, 'sample')})"
    text = f"{about}: {message}" if about else message
    return Paragraph(text=text, tone=Tone.WARNING if notice.severity is Severity.WARNING else Tone.NOTE)
