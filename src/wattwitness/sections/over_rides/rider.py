"""What it does to the rider: zones, threshold, ranking, and the change that two tests can show."""

from __future__ import annotations

from wattwitness.charts import zones
from wattwitness.model.rider import RiderEffects, ThresholdTest, ZonesRidden
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.model.study import Study
from wattwitness.sections.building import Block
from wattwitness.words.estimates import missing_words, with_interval
from wattwitness.words.names import clean
from wattwitness.words.numbers import NBSP, number, quantity, typeset

NAME = "rider"
TITLE = "What it does to the rider"


def build(study: Study) -> Section | None:
    """Each part that the rides allow."""
    effects = study.rider
    if effects is None:
        return None
    blocks: list[Block] = []
    for ridden in effects.zones:
        blocks += _zones(ridden)
    blocks += _held(effects)
    blocks += _tests(effects.tests)
    blocks += _places(effects)
    blocks.append(_change(effects))
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))


def _zones(ridden: ZonesRidden) -> list[Block]:
    share, perfect = ridden.agreeing, ridden.perfect_agreeing
    if share is None or perfect is None:
        return []
    names = ridden.zones.names
    threshold = f"{quantity(ridden.threshold_w, 'W', 0)} ({typeset(ridden.threshold_from)})"
    lead = (
        f"With a threshold of {threshold} the zone shown was the true one for "
        f"{number(100 * share, 0)}{NBSP}% of the time; a perfect unit with the same averaging would have "
        f"shown it for {number(100 * perfect, 0)}{NBSP}%."
    )
    table = Table(
        caption="Minutes by true zone (rows) and zone shown (columns); zones are entered on means of 30 s",
        columns=(Column(heading="true zone", numeric=False), *(Column(heading=name, unit="min") for name in names)),
        rows=tuple(
            (name, *(number(seconds / 60, 1) for seconds in row)) for name, row in zip(names, ridden.shown, strict=True)
        ),
    )
    return [Paragraph(text=lead), zones.build(ridden), table]


def _held(effects: RiderEffects) -> list[Block]:
    if not effects.held:
        return []
    return [
        Table(
            caption="A rider who holds the middle of a true zone: how often another is shown",
            columns=(
                Column(heading="true zone", numeric=False),
                Column(heading="held", unit="W"),
                Column(heading="rides that show another", unit="%"),
                Column(heading="of all seconds", unit="%"),
            ),
            rows=tuple(
                (one.zone, number(one.held_w, 0), number(100 * one.other_shown, 0), number(100 * one.seconds_share, 0))
                for one in effects.held
            ),
        )
    ]


def _tests(tests: tuple[ThresholdTest, ...]) -> list[Block]:
    known = [test for test in tests if test.reference_w is not None and test.unit_w is not None]
    if not known:
        return []
    best = max(known, key=lambda test: test.reference_w or 0.0)
    lead = (
        f"Over all rides, by {number(100 * best.share, 0)}{NBSP}% of the best 20 minutes of any, the reference "
        f"sets the threshold at {quantity(best.reference_w, 'W', 0)}, the unit at {quantity(best.unit_w, 'W', 0)}."
    )
    table = Table(
        caption="Upper end of each zone by either threshold",
        columns=(
            Column(heading="zone", numeric=False),
            Column(heading="by the reference", unit="W"),
            Column(heading="by the unit", unit="W"),
        ),
        rows=tuple((zone, number(own, 0), number(shown, 0)) for zone, own, shown in best.zone_ends_w),
    )
    return [Paragraph(text=lead), table]


def _places(effects: RiderEffects) -> list[Block]:
    if not effects.places:
        return []
    return [
        Table(
            caption="Place in the field given, if that rider alone rode this unit",
            columns=(
                Column(heading="rider", numeric=False),
                Column(heading="true place"),
                Column(heading="place shown"),
                Column(heading="best to worst over rides", numeric=False),
            ),
            rows=tuple(
                (clean(one.rider), str(one.true_place), str(one.shown_place), f"{one.best} to {one.worst}")
                for one in effects.places
            ),
        )
    ]


def _change(effects: RiderEffects) -> Paragraph:
    """The smallest change of threshold that two tests can show, on the unit as far as it is known."""
    change = effects.change
    alone = quantity(change.reference_pct, "%")
    together = quantity(change.reference_with_rider_pct, "%")
    if not change.unit_pct.assessed or change.unit_with_rider_pct is None:
        return Paragraph(
            text=(
                f"What change of threshold two tests on this unit can show was {missing_words(change.unit_pct)}. On "
                f"the reference it is {alone}, and {together} with the rider’s own variation."
            )
        )
    watts = ""
    if change.threshold_w is not None and change.unit_pct.value is not None:
        watts = f", {quantity(change.threshold_w * change.unit_pct.value / 100, 'W')} at the threshold here"
    shown = with_interval(change.unit_pct, signed=False)
    return Paragraph(
        text=(
            f"Two tests on this unit can show a change of threshold from {shown} on{watts}; on the reference from "
            f"{alone} on. The rider’s own variation comes on top; with it they are "
            f"{quantity(change.unit_with_rider_pct, '%')} and {together}."
        )
    )
