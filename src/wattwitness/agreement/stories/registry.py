"""Every story. A new one is one file beside this and one line below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wattwitness.agreement.stories import (
    crank_length,
    one_side_doubled,
    quantisation,
    scale_error,
    smoothing,
    target_shown,
    transmission_loss,
    within_uncertainty,
    zero_not_taken,
)
from wattwitness.agreement.stories.apart import with_apart
from wattwitness.agreement.stories.evidence import Evidence
from wattwitness.model.anatomy import Story
from wattwitness.model.registry import Registry


@dataclass(frozen=True, slots=True, kw_only=True)
class StorySpec:
    """A story under its name, what it says in a few words, and how it is told; none where it cannot be judged."""

    name: str
    title: str
    tell: Callable[[Evidence], tuple[Story, ...]]


STORIES: Registry[StorySpec] = Registry(
    "story",
    [
        StorySpec(
            name=within_uncertainty.NAME, title="within the reference's uncertainty", tell=within_uncertainty.tell
        ),
        StorySpec(name=scale_error.NAME, title="a plain scale error", tell=scale_error.tell),
        StorySpec(name=zero_not_taken.NAME, title="a zero not taken", tell=zero_not_taken.tell),
        StorySpec(name=crank_length.NAME, title="a crank length set wrong", tell=crank_length.tell),
        StorySpec(name=one_side_doubled.NAME, title="one side doubled", tell=one_side_doubled.tell),
        StorySpec(name=transmission_loss.NAME, title="the loss of the transmission", tell=transmission_loss.tell),
        StorySpec(name=smoothing.NAME, title="a display that averages", tell=smoothing.tell),
        StorySpec(name=quantisation.NAME, title="a display in coarse steps", tell=quantisation.tell),
        StorySpec(name=target_shown.NAME, title="a target shown, not a measurement", tell=target_shown.tell),
    ],
)


def tell_stories(evidence: Evidence) -> tuple[Story, ...]:
    """Every story that can be judged on this ride, the allowed ones first, each with what would tell it apart."""
    stories = with_apart(
        [story for spec in STORIES for story in spec.tell(evidence)],
        zero_shown=evidence.zero_shown,
        ridden=evidence.ridden,
    )
    return tuple(sorted(stories, key=lambda story: not story.allowed))
