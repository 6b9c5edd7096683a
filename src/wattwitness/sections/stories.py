"""The stories the ride allows, those it excludes, and what would tell the allowed ones apart."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.agreement.stories.registry import STORIES
from wattwitness.model.anatomy import MeterSide, Story
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.sections.building import Block, Named, for_each_unit, not_assessed_paragraph
from wattwitness.words.estimates import listed

NAME = "stories"
TITLE = "What may be behind it"


def build(comparison: Comparison) -> Section | None:
    """Stories for each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    stories = named.pair.stories
    if not stories:
        yield not_assessed_paragraph(named, "stories", "What may be behind the difference", None)
        return
    allowed = [story for story in stories if story.allowed]
    if allowed:
        names = listed(list(dict.fromkeys(_name(story) for story in allowed)))
        yield Paragraph(text=f"{named.unit}: the ride allows {names}. What is not excluded is not proven.")
    else:
        yield Paragraph(text=f"{named.unit}: none of the stories told here fits the ride.")
    for sentence in dict.fromkeys(sentence for story in allowed for sentence in _sentences(story.told_apart_by)):
        yield Paragraph(text=sentence)
    if any(story.misfit is not None for story in stories):
        yield Paragraph(
            text=(
                "The number beside a story is no probability of the story. It says in how many of 100 such rides the "
                "meters would differ at least this much if that story alone were true: many stories can score high at "
                "once. Under 1 of 100 it is excluded (within the reference’s uncertainty: under 5). A dash stands "
                "where a story is judged otherwise, or stands only beside another."
            ),
            tone=Tone.NOTE,
        )
    if allowed:
        yield _table("Stories the ride allows", allowed)
    yield _table("Stories the ride excludes", [story for story in stories if not story.allowed], folded=True)


def _sentences(text: str) -> list[str]:
    """The sentences of a text, each whole."""
    return [f"{part.rstrip('.')}." for part in _curly(text).split(". ") if part]


def _name(story: Story) -> str:
    title = _curly(STORIES.get(story.name).title)
    return title if story.which_meter is MeterSide.EITHER else f"{title} ({story.which_meter.value})"


def _table(caption: str, stories: list[Story], *, folded: bool = False) -> Table:
    return Table(
        caption=caption,
        columns=(
            Column(heading="story", numeric=False),
            Column(heading="so large a difference if true, of 100 rides"),
            Column(heading="why", numeric=False),
        ),
        rows=tuple((_name(story), _chance(story.misfit), _curly(story.why)) for story in stories),
        folded=folded,
    )


def _curly(text: str) -> str:
    """Apostrophes as the report writes them."""
    return text.replace("'", "’")


def _chance(misfit: float | None) -> str:
    if misfit is None:
        return "–"
    if misfit < 0.001:
        return "under 0.1"
    if misfit >= 0.995:
        return "over 99"
    return f"{100 * misfit:.1f}" if misfit < 0.0995 else f"{100 * misfit:.0f}"
