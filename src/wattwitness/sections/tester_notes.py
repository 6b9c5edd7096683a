"""The tester's own words, set apart from what the program says."""

from __future__ import annotations

import re
from dataclasses import replace

from wattwitness.model.publication import Publication
from wattwitness.model.section import Paragraph, Section, Tone, Voice
from wattwitness.words.names import clean

NAME = "tester_notes"
TITLE = "The tester’s own words"
LEAD = "Written by the tester. Nothing here was worked out or checked by wattwitness."
LONGEST_PARAGRAPH = 4000


def build(text: str) -> Section | None:
    """Plain paragraphs, parted by empty lines; marks of any kind stay signs. Nothing where there are no words."""
    parts = [clean(part, longest=LONGEST_PARAGRAPH) for part in re.split(r"\n[ \t]*\n", text.replace("\r\n", "\n"))]
    said = tuple(Paragraph(text=part) for part in parts if part)
    if not said:
        return None
    return Section(name=NAME, title=TITLE, blocks=(Paragraph(text=LEAD, tone=Tone.NOTE), *said), voice=Voice.TESTER)


def with_notes(publication: Publication, text: str) -> Publication:
    """The publication with the notes after the answer."""
    notes = build(text)
    if notes is None:
        return publication
    first, *rest = publication.sections
    return replace(publication, sections=(first, notes, *rest))
