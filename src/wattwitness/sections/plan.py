"""A plan as a ride sheet: what to do, what to ride, what it tells apart, and what it would decide."""

from __future__ import annotations

import math

from wattwitness.charts import plan_steps, verdict_chances
from wattwitness.model.chart import Chart
from wattwitness.model.plan import Prospects, RidePlan, Separation, StepKind, StudyPlan, VerdictChances
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean
from wattwitness.words.numbers import NBSP, clock_time, number, quantity, typeset

READY = (
    "Ask yourself three things first: how active you are as a rule; whether you have a known disease of heart, "
    "vessels, metabolism or kidneys; and whether you have had signs of one (pain or pressure in the chest, dizziness, "
    "fainting, unusual breathlessness, a racing heart, swollen ankles). With a known disease or such signs, or if you "
    "are not used to exercise and mean to ride hard, ask a physician first. This is the usual caution and no medical "
    "screening: local rules and qualified people come first."
)
STOP = (
    "Stop at pain, dizziness, unusual breathlessness or faintness, and when the effort is harder than the sheet says. "
    "Do not ride hard alone, ill, or soon after illness; have water and air moving."
)
STAYS_UNDER = "No step asks for more than {share} of the threshold power; nothing here is a maximal effort."
BEYOND = (
    "This plan goes above the threshold power, because that was asked for. Such efforts are for riders who are "
    "trained, well and used to them, with somebody else present. Nobody needs them to judge a bike: steps below "
    "threshold tell gain, zero, cadence and settling as well."
)
NO_THRESHOLD = (
    "No threshold power was given, so the steps are those of a rider with {threshold}. For a rider with less "
    "they would be too hard: state the rider’s own."
)
ROWS = 13
"""Steps in one table: few enough that a page leaves it open, and prints it."""

FOR_NOTES = 16 * NBSP
OWN_NO_THRESHOLD = (
    "No threshold power was given, so whether these steps stay below the rider’s is not known. State it before anybody "
    "rides them."
)
KINDS = {StepKind.WARM_UP: "warm-up", StepKind.MEASURE: "step", StepKind.COOL_DOWN: "cool-down"}
BEFORE = (
    "Let bike, pedals and room come to one temperature, and note it. Fit new pedals a ride or two before.",
    "Take the zero of the reference before every ride; write down that you did, and the crank length it is set to.",
    "Record one sample a second with both, from the first turn of the pedals on: a unit settles in the warm-up.",
    "Ride the warm-up as it stands, also on a bike that is warm: every ride is to begin alike.",
    "Hold the cadence first and the power second. A step that went wrong is ridden on, not repeated.",
    "Do not change firmware, fit or position between rides; if you must, note it.",
)


def plan_sections(plan: StudyPlan) -> tuple[Section, ...]:
    """The sheet from the answer to the assumptions; cautions stand before anything that is ridden."""
    return (
        _answer(plan),
        _cautions(plan),
        *(_order(ride, plan, place) for place, ride in enumerate(plan.orders)),
        _apart(plan.separation, plan.orders[0]),
        *((_verdicts(plan.prospects),) if plan.prospects is not None else ()),
        _stands_on(plan),
    )


def _answer(plan: StudyPlan) -> Section:
    minutes = plan.orders[0].minutes
    hours = plan.rides * minutes / 60
    blocks = [
        Paragraph(
            text=f"Ride {counted(plan.rides, 'ride')} of {quantity(minutes, 'min', 0)}, each on a day of its own.",
            tone=Tone.HEADLINE,
        ),
        Paragraph(
            text=f"Why so many: {plan.rides_reason}. {_in_turn(plan)}Two rides on one day say less of how days differ."
        ),
        Paragraph(text=typeset(plan.separation.says), tone=Tone.PLAIN if plan.separation.separates else Tone.WARNING),
    ]
    if plan.prospects is None:
        why = "without a claimed limit" if plan.claim is None else "as no limit is claimed at the power of these steps"
        blocks.append(Paragraph(text=f"What they would decide is not assessed, {why}.", tone=Tone.NOTE))
    else:
        blocks.append(Paragraph(text=typeset(plan.prospects.needed.reason)))
        blocks += _reference(plan.prospects, hours)
    return Section(name="plan", title="The plan", blocks=tuple(blocks))


def _in_turn(plan: StudyPlan) -> str:
    """How the orders follow one another, where there are two."""
    if len(plan.orders) < 2:
        return ""
    first, second = plan.orders[0].name, plan.orders[1].name
    return (
        f"Ride {first} first, then {second}, and so on in turn: the one is the other backwards, so that over two rides "
        "every step is ridden as early as late and every way up is also a way down. "
    )


def _reference(prospects: Prospects, hours: float) -> list[Paragraph]:
    said = []
    perfect = prospects.by_bias[0]
    if math.isinf(prospects.largest_reference_pct):
        text = (
            "Simple acceptance is never undecided, and so it is wrong the more often the nearer a unit is to the "
            "limit: the table by true bias shows how often."
        )
        return [Paragraph(text=text, tone=Tone.WARNING), _fault_free(prospects, hours)]
    if perfect.conforms < prospects.asked_chance:
        largest = prospects.largest_reference_pct
        said.append(
            Paragraph(
                text=f"Even a unit without any bias would be found to conform with a chance of "
                f"{_share(perfect.conforms)} only. “Conforms” cannot be said at all with a reference of more than "
                f"{quantity(largest, '%', 2)} standard uncertainty, and is common only well below that.",
                tone=Tone.WARNING,
            )
        )
    return [*said, _fault_free(prospects, hours)]


def _fault_free(prospects: Prospects, hours: float) -> Paragraph:
    """What the hours of the plan would show of faults, if none came."""
    faults = quantity(prospects.fault_free_hours, "h")
    text = f"The rides last {quantity(hours, 'h')} in all. "
    if hours >= prospects.fault_free_hours:
        text += f"Without a fault in them, fewer than {prospects.faults_per_h:.12g} an hour are shown."
    else:
        text += f"To show fewer than {prospects.faults_per_h:.12g} faults an hour takes {faults} without any."
    return Paragraph(text=text)


def _cautions(plan: StudyPlan) -> Section:
    hardest = max(max(step.power_w, step.end_w or 0.0) for ride in plan.orders for step in ride.steps)
    blocks = [Paragraph(text=READY, tone=Tone.WARNING), Paragraph(text=STOP, tone=Tone.WARNING)]
    if not plan.threshold_stated:
        threshold = quantity(plan.threshold_w, "W", 0)
        text = OWN_NO_THRESHOLD if len(plan.orders) == 1 else NO_THRESHOLD.format(threshold=threshold)
        blocks.append(Paragraph(text=text, tone=Tone.WARNING))
    if plan.beyond_threshold:
        blocks.append(Paragraph(text=BEYOND, tone=Tone.WARNING))
    elif plan.threshold_stated or len(plan.orders) > 1:
        blocks.append(Paragraph(text=STAYS_UNDER.format(share=_share(hardest / plan.threshold_w))))
    rows = tuple((str(place), text) for place, text in enumerate(BEFORE, start=1))
    columns = (Column(heading="no."), Column(heading="what to do", numeric=False))
    table = Table(caption="Before and during every ride", columns=columns, rows=rows)
    return Section(name="ready", title="Before you ride", blocks=(*blocks, table))


def _order(ride: RidePlan, plan: StudyPlan, place: int) -> Section:
    turns = ("the 1st, 3rd, 5th …", "the 2nd, 4th, 6th …") if len(plan.orders) > 1 else ("every",)
    start = 0.0
    rows = []
    for count, step in enumerate(ride.steps, start=1):
        rows.append(
            (
                str(count),
                KINDS[step.kind],
                clock_time(start),
                clock_time(step.seconds)[2:],
                number(step.power_w, 0) if step.end_w is None else f"{step.power_w:.0f} to {step.end_w:.0f}",
                number(step.cadence_rpm, 0),
                FOR_NOTES,
            )
        )
        start += step.seconds
    columns = (
        Column(heading="no."),
        Column(heading="part", numeric=False),
        Column(heading="from"),
        Column(heading="for", unit="min:s"),
        Column(heading="power", unit="W"),
        Column(heading="cadence", unit="rpm"),
        Column(heading="noted", numeric=False),
    )
    blocks: tuple[Paragraph | Table | Chart, ...] = (
        Paragraph(
            text=f"For {turns[place]} ride: {quantity(ride.minutes, 'min', 0)} in {counted(len(ride.steps), 'step')}."
        ),
        *(
            Table(
                caption=f"Steps {first + 1} to {min(first + ROWS, len(rows))} of {ride.name}",
                columns=columns,
                rows=tuple(rows[first : first + ROWS]),
            )
            for first in range(0, len(rows), ROWS)
        ),
        plan_steps.build(ride, plan.threshold_w),
    )
    return Section(name=ride.name.replace(" ", "_"), title=f"{ride.name[:1].upper()}{ride.name[1:]}", blocks=blocks)


def _apart(separation: Separation, ride: RidePlan) -> Section:
    effects = Table(
        caption="How well one ride shows each cause",
        columns=(
            Column(heading="cause", numeric=False),
            Column(heading="standard error", unit="%"),
            Column(heading="if it were the only one", unit="%"),
            Column(heading="wanted", unit="%"),
        ),
        rows=tuple(
            (one.name.value, number(one.se_pct, 2), number(one.alone_se_pct, 2), number(one.wanted_pct, 2))
            for one in separation.effects
        ),
    )
    pairs = Table(
        caption="Which causes one ride tells apart",
        columns=(
            Column(heading="one", numeric=False),
            Column(heading="other", numeric=False),
            Column(heading="correlation"),
            Column(heading="times less sure"),
            Column(heading="told apart", numeric=False),
        ),
        rows=tuple(
            (
                one.first.value,
                one.second.value,
                number(one.correlation, 2, signed=True),
                number(one.inflation, 1),
                "yes" if one.separable else "no",
            )
            for one in separation.pairs
        ),
    )
    text = (
        f"Predicted from the steps of {ride.name} before anything is ridden, with the usual wander of a good unit. A "
        "gain is in percent of the reading, a zero in percent at the mean torque of the steps, cadence for 10 rpm, "
        "settling for the whole change along a ride, with the time constant (5, 10 or 15 min) that the ride tells "
        "worst. “Times less sure”: how much wider not knowing the one makes the other."
    )
    return Section(name="told_apart", title="What a ride tells apart", blocks=(Paragraph(text=text), effects, pairs))


def _verdicts(prospects: Prospects) -> Section:
    blocks = (
        Paragraph(
            text=f"Whole studies were drawn, each with an error of its reference that is the same in all its rides, "
            f"and judged as a real study is, against ±{prospects.limit_pct:.12g}{NBSP}%. A firm verdict is asked "
            f"for with a chance of {_share(prospects.asked_chance)}."
        ),
        Paragraph(text=f"Is it the same every day? {typeset(prospects.consistency_needed.reason)}"),
        verdict_chances.build(prospects),
        _chances(
            f"Chance of each verdict on the mean bias after {prospects.by_bias[0].rides} rides, by the true bias",
            prospects.by_bias,
            "true bias, either sign",
            "%",
        ),
        _chances(
            "Chance of each verdict on the mean bias, averaged over what the bias may be", prospects.by_rides, "rides"
        ),
        _chances(
            f"Chance of each verdict on the spread between rides (limit "
            f"{prospects.spread_limit_pct:.12g}{NBSP}%), averaged over what it may be",
            prospects.consistency,
            "rides",
        ),
    )
    return Section(name="would_decide", title="What it would decide", blocks=blocks)


def _chances(caption: str, chances: tuple[VerdictChances, ...], heading: str, unit: str = "") -> Table:
    return Table(
        caption=caption,
        columns=(
            Column(heading=heading, unit=unit),
            Column(heading="conforms", unit="%"),
            Column(heading="does not conform", unit="%"),
            Column(heading="undecided", unit="%"),
        ),
        rows=tuple(
            (
                number(one.rides, 0) if one.true_bias_pct is None else number(one.true_bias_pct, 2),
                *(number(100 * share, 0) for share in (one.conforms, one.does_not_conform, one.undecided)),
            )
            for one in chances
        ),
    )


def _stands_on(plan: StudyPlan) -> Section:
    claim = "none" if plan.claim is None else clean(plan.claim.source)
    rows = [("claim", _limits(plan), claim)]
    rows += [(one.name, typeset(one.value), typeset(one.origin)) for one in plan.assumptions]
    rows.append(("decision rule", plan.rule.value.replace("_", " "), f"risk of a wrong firm verdict {plan.risk:.12g}"))
    rows.append(("seed of the order", str(plan.seed), f"wattwitness {plan.version}"))
    columns = (
        Column(heading="what", numeric=False),
        Column(heading="value", numeric=False),
        Column(heading="from where", numeric=False),
    )
    return Section(
        name="stands_on",
        title="What the plan stands on",
        blocks=(Table(caption="Numbers taken before the first ride", columns=columns, rows=tuple(rows)),),
    )


def _limits(plan: StudyPlan) -> str:
    claim = plan.claim
    if claim is None:
        return "none"
    parts = [f"±{claim.limit_pct:.12g} %"] if claim.limit_pct is not None else []
    parts += [f"±{claim.limit_w:.12g} W"] if claim.limit_w is not None else []
    return " or ".join(parts) or "no limit on the bias"


def _share(value: float) -> str:
    return quantity(100 * value, "%", 0)
