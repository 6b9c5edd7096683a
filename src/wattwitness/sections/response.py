"""How each display follows the effort."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.model.comparison import Comparison
from wattwitness.model.response import Response, ResponseKind
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import interval_cell, value_cell
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import number
from wattwitness.words.parts import response_words

NAME = "response"
TITLE = "How the display follows the effort"
KINDS = {
    ResponseKind.PROMPT: "at once",
    ResponseKind.MEAN: "mean of the last seconds",
    ResponseKind.EXPONENTIAL: "fading mean",
    ResponseKind.NOT_ASSESSED: "not assessed",
}


def build(comparison: Comparison) -> Section | None:
    """The responses of each unit and of the reference beside it."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    fit = named.pair.response
    if fit.unit.kind is ResponseKind.NOT_ASSESSED:
        yield not_assessed_paragraph(named, "response", "The response", fit.unit.delay_s)
        return
    text = f"{sentence_start(named.unit)} {response_words(fit.unit)}."
    if fit.reference.kind in (ResponseKind.MEAN, ResponseKind.EXPONENTIAL):
        text += f" Beside it {named.reference} {response_words(fit.reference)}."
    yield Paragraph(
        text=f"{text} Only the difference between the two can be seen, so the prompter one is taken as prompt; being "
        "late or smooth is not counted as bias."
    )
    yield Table(
        caption="The responses",
        columns=(
            Column(heading="meter", numeric=False),
            Column(heading="follows", numeric=False),
            Column(heading="mean over", unit="s"),
            Column(heading="time constant", unit="s"),
            Column(heading="delay beyond that", unit="s"),
            Column(heading=f"delay, {interval_heading(fit.unit.delay_s)}", unit="s"),
        ),
        rows=(_row(named.reference, fit.reference), _row(named.unit, fit.unit)),
    )
    if fit.criterion:
        yield Table(
            caption="Responses tried: the lower the criterion, the better the fit for its size",
            columns=(Column(heading="response", numeric=False), Column(heading="information criterion")),
            rows=tuple((name, number(value, 1)) for name, value in sorted(fit.criterion, key=lambda item: item[1])),
            folded=True,
        )


def _row(name: str, response: Response) -> tuple[str, ...]:
    return (
        name,
        KINDS[response.kind],
        value_cell(response.width_s, 0, signed=False),
        value_cell(response.tau_s, signed=False),
        value_cell(response.delay_s),
        interval_cell(response.delay_s),
    )
