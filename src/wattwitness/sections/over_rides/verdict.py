"""The verdict first: three claims, each answered in words, and how many more rides would decide."""

from __future__ import annotations

from wattwitness.model.claim import Verdict, VerdictWord
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.study import Study
from wattwitness.words.estimates import against_true_power, holds_zero, reads
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import ABSENT, number, quantity, typeset

NAME = "verdict"
TITLE = "The verdict"
QUESTIONS = (
    ("trueness", "Is it right on average?"),
    ("consistency", "Is it the same every day?"),
    ("faults", "Is it free from faults?"),
)
WORDS = {
    VerdictWord.CONFORMS: "conforms",
    VerdictWord.DOES_NOT_CONFORM: "does not conform",
    VerdictWord.UNDECIDED: "undecided",
    VerdictWord.NOT_ASSESSED: "not assessed",
}


ONE_SIDED = (
    "The interval leaves a chance on both sides and holds zero; the verdict asks on one side only whether the bias is "
    "beyond the limit, and is firm there. With so few rides the two can part: more rides bring them together."
)


def build(study: Study) -> Section:
    """The mean bias in a sentence, then each claim's verdict with its reason, and the table of them."""
    unit = sentence_start(clean(study.unit))
    counted = study.consistency.standardised.rides
    mean = study.consistency.standardised.mean_bias_pct
    at = f"at {quantity(study.consistency.at_w, 'W', 0)}"
    headline = f"No ride of {clean(study.unit)} counts."
    if mean.assessed:
        where = "on the one ride that counts" if counted == 1 else f"over {counted} rides, {at}"
        headline = f"{unit} {mean_reads(study)}, {where}."
    verdicts = [(question, getattr(study.verdicts, name)) for name, question in QUESTIONS]
    blocks: list[Paragraph | Table] = [Paragraph(text=headline, tone=Tone.HEADLINE)]
    if _is_one_sided(study):
        blocks.append(Paragraph(text=ONE_SIDED, tone=Tone.NOTE))
    if mean.assessed:
        blocks.append(Paragraph(text=_with_reference(study)))
    if study.judged_on:
        text = f"Judged as it is now, on the rides of “{clean(study.judged_on)}”; what changed stands further down."
        blocks.append(Paragraph(text=text, tone=Tone.NOTE))
    blocks += [_answer(question, verdict) for question, verdict in verdicts]
    blocks.append(Paragraph(text=typeset(study.consistency.says)))
    blocks.append(Paragraph(text=typeset(study.correction.says)))
    if study.before_after is not None:
        blocks.append(Paragraph(text=typeset(study.before_after.says)))
    blocks.append(
        Table(
            caption="Three claims, judged apart",
            columns=(
                Column(heading="question", numeric=False),
                Column(heading="verdict", numeric=False),
                Column(heading="probability", unit="%"),
                Column(heading="held against", numeric=False),
                Column(heading="rides still needed", numeric=False),
            ),
            rows=tuple(_row(question, verdict) for question, verdict in verdicts),
        )
    )
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))


def mean_reads(study: Study) -> str:
    """What the mean over the rides that count says, as the rest of a sentence; never less than a firm verdict does."""
    found = study.consistency.standardised
    witness = "this ride" if found.rides == 1 else "these rides"
    return reads(found.mean_bias_pct, witness=witness, shown_elsewhere=_is_one_sided(study))


def _is_one_sided(study: Study) -> bool:
    """Whether the verdict is firm on one side while the interval still holds zero."""
    firm = study.verdicts.trueness.verdict is VerdictWord.DOES_NOT_CONFORM
    return firm and holds_zero(study.consistency.standardised.mean_bias_pct)


def _with_reference(study: Study) -> str:
    """The same mean as a statement about the true power; the interval in the headline is of the rides alone."""
    found, alone = study.mean_bias_with_reference_pct, study.consistency.standardised.mean_bias_pct
    if found.low is None or found.high is None or study.reference_uncertainty_pct == 0:
        return "The uncertainty of the reference itself is not counted in this interval."
    text = f"That is against the reference as it stands. {against_true_power(found, study.reference_uncertainty_pct)}"
    if holds_zero(found) and not holds_zero(alone):
        text += " So the two differ, but these rides cannot say that it is the unit that is wrong."
    return text


def _answer(question: str, verdict: Verdict) -> Paragraph:
    loud = verdict.verdict is VerdictWord.DOES_NOT_CONFORM
    more = "" if verdict.verdict is not VerdictWord.UNDECIDED else f" {typeset(verdict.further_rides.reason)}"
    return Paragraph(text=f"{question} {typeset(verdict.says)}{more}", tone=Tone.WARNING if loud else Tone.PLAIN)


def _row(question: str, verdict: Verdict) -> tuple[str, ...]:
    further = verdict.further_rides
    needed = ABSENT
    if verdict.verdict is VerdictWord.UNDECIDED:
        needed = "no number helps" if further.value is None else number(further.value, 0)
        if further.value is None and verdict.probability is None:
            needed = "one at least"
        elif further.more_than is not None:
            needed = f"over {number(further.more_than, 0)}"
    elif verdict.verdict is not VerdictWord.NOT_ASSESSED:
        needed = "none"
    share = ABSENT if verdict.probability is None else _percent(verdict.probability)
    return question, WORDS[verdict.verdict], share, typeset(verdict.claim) or ABSENT, needed


def _percent(probability: float) -> str:
    """Never 0 or 100 where it is neither."""
    if 0 < probability < 0.001:
        return "under 0.1"
    return "over 99.9" if 0.999 < probability < 1 else number(100 * probability, 1)
