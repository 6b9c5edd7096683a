"""Which ride or check would tell the allowed stories from one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from wattwitness.agreement.stories.evidence import Ridden
from wattwitness.model.anatomy import MeterSide, Story, StoryStatus

GAINS = frozenset({"scale_error", "crank_length", "one_side_doubled", "within_uncertainty"})
"""All of these are a gain: the same share at every torque."""

CAUSES = frozenset({"scale_error", "crank_length", "one_side_doubled", "zero_not_taken"})
"""Stories that may be either meter's, which the two meters alone never tell."""

TORQUE_RIDE = (
    "Ride steps from easy to hard at one cadence, so that the torque at least trebles: a zero shows most when "
    "the torque is low, a gain is the same throughout."
)
CADENCE_RIDE = (
    "Hold the same power at 60 and at 100 rpm in turn: a zero makes more watts at the higher cadence, a loss in "
    "chain or belt hardly does."
)
LOSS_RIDE = (
    "Ride steps from 50 W upwards: a loss in chain or belt is the larger share the lower the power, a gain is not."
)
RULER = (
    "No ride can tell a wrong crank length from a plain scale error: look the length up in the meter's setting and "
    "on the crank."
)
BALANCE = (
    "Record left and right, or ride minutes that lean on one leg in turn, as far as that is comfortable: only a "
    "doubled leg follows."
)
WEIGHTS = "Hang known weights on the reference, or ride with a third meter: that tells which of the two is off."
WEIGHTS_OF_MORE = (
    "Hang known weights on the reference: that tells which is off. The other meters of this ride are a hint only: "
    "see which of them agree."
)
"""Where a third meter was there already."""

ACCOUNTED_BY_SIZE = GAINS | {"zero_not_taken", "transmission_loss"}
RIVAL = (
    "A bias that settled along the ride, while the power went the same way, would look the same, so this ride neither "
    "shows it nor rules it out."
)
SETTLING_RIDE = (
    "Ride an easy and a hard stretch both early and late: what settles then parts from what goes with power."
)

TREBLES, SLOW_RPM, FAST_RPM, EASY_W = 3.0, 65.0, 95.0, 80.0
"""What counts as the ride having been ridden already: the ends of its middle 90 %."""

TORQUE_AGAIN = (
    "The torque trebled on this ride already, and zero and gain are still not told apart: the same steps held longer, "
    "or ridden several times, would do it."
)
CADENCE_AGAIN = (
    "This ride has both slow and fast cadences already; it would tell more with each power held at both, for longer."
)
LOSS_AGAIN = (
    "This ride has easy and hard stretches already; a loss is told from a gain by more minutes of the easiest, under "
    "80 W."
)


def with_apart(
    stories: Sequence[Story], *, zero_shown: bool = False, ridden: Ridden | None = None
) -> tuple[Story, ...]:
    """The stories, each allowed one with what would tell it from the others that are allowed.

    ``zero_shown``: the ride has told a zero from a gain by itself. ``ridden``: what it varied, so that nobody is sent
    to ride again just what was ridden.
    """
    allowed = [story for story in stories if story.allowed]
    return tuple(
        replace(story, told_apart_by=_apart(story, allowed, zero_shown, ridden)) if story.allowed else story
        for story in stories
    )


def beside_settling(stories: Sequence[Story]) -> tuple[Story, ...]:
    """The stories of a ride on which a bias that settles would look the same: none of them is excluded by its size."""
    told = []
    for story in stories:
        if story.name not in ACCOUNTED_BY_SIZE:
            told.append(story)
            continue
        advice = (
            story.told_apart_by if SETTLING_RIDE in story.told_apart_by else f"{SETTLING_RIDE} {story.told_apart_by}"
        )
        told.append(
            replace(story, status=StoryStatus.ALLOWED, why=RIVAL, misfit=None, detail="", told_apart_by=advice.strip())
        )
    return tuple(sorted(told, key=lambda story: not story.allowed))


def with_more_meters(stories: Sequence[Story]) -> tuple[Story, ...]:
    """The stories of a ride that a third meter was on: nobody is told to bring one."""
    return tuple(
        replace(story, told_apart_by=story.told_apart_by.replace(WEIGHTS, WEIGHTS_OF_MORE)) for story in stories
    )


def for_this_ride(advice: str, ridden: Ridden | None) -> str:
    """The advice, or what would still help where the ride held it already."""
    if ridden is None:
        return advice
    torque, power, cadence = ridden.torque_nm, ridden.power_w, ridden.cadence_rpm
    if advice == TORQUE_RIDE and torque[1] >= TREBLES * torque[0]:
        return TORQUE_AGAIN
    if advice == CADENCE_RIDE and cadence is not None and cadence[0] <= SLOW_RPM and cadence[1] >= FAST_RPM:
        return CADENCE_AGAIN
    if advice == LOSS_RIDE and power[0] <= EASY_W and power[1] >= TREBLES * power[0]:
        return LOSS_AGAIN
    return advice


def _apart(story: Story, allowed: Sequence[Story], zero_shown: bool, ridden: Ridden | None) -> str:
    """Sentences for one story, each said once."""
    others = {other.name for other in allowed} - {story.name}
    said = []
    for other in sorted(others):
        sentence = for_this_ride(between(story.name, other, zero_shown=zero_shown), ridden)
        if sentence and sentence not in said:
            said.append(sentence)
    both_meters = len({other.which_meter for other in allowed if other.name == story.name}) > 1
    if (both_meters or story.which_meter is MeterSide.EITHER) and story.name in CAUSES and WEIGHTS not in said:
        said.append(WEIGHTS)
    return " ".join(said)


def between(one: str, other: str, *, zero_shown: bool = False) -> str:
    """What tells two stories apart; empty where they do not compete.

    Where a zero is shown, whatever the gain, the two do not compete: any gain that is allowed is there beside it. Only
    whose they are is open.
    """
    pair = {one, other}
    if zero_shown and "zero_not_taken" in pair and pair & GAINS:
        return WEIGHTS if "within_uncertainty" in pair else ""
    if "zero_not_taken" in pair and pair & GAINS:
        return TORQUE_RIDE
    if pair == {"zero_not_taken", "transmission_loss"}:
        return CADENCE_RIDE
    if "transmission_loss" in pair and pair & GAINS:
        return LOSS_RIDE
    if "one_side_doubled" in pair and pair & GAINS:
        return BALANCE
    if pair == {"crank_length", "scale_error"}:
        return RULER
    if "within_uncertainty" in pair and pair <= GAINS:
        return WEIGHTS
    return ""
