"""Can it be corrected, by which formula, and how well on a ride that the formula has not seen."""

from __future__ import annotations

from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.study import CorrectionModel, Study
from wattwitness.sections.building import Block
from wattwitness.words.numbers import number, typeset

NAME = "correction"
TITLE = "Can it be corrected?"
WORDS = {
    CorrectionModel.NONE: "none",
    CorrectionModel.GAIN: "one factor",
    CorrectionModel.GAIN_AND_ZERO: "factor and zero",
    CorrectionModel.WITH_SETTLING: "course of settling, then a factor",
}


def build(study: Study) -> Section:
    """The answer, the formula in numbers, and every way that was tried."""
    found = study.correction
    blocks: list[Block] = [Paragraph(text=typeset(found.says), tone=Tone.HEADLINE)]
    if found.correctable and found.formula and found.best is not CorrectionModel.NONE:
        blocks.append(Paragraph(text=f"In numbers, power in W and cadence in rpm: {typeset(found.formula)}."))
    if found.tried:
        rows = tuple((WORDS[one.model], number(one.error_pct, 2), number(one.bound_pct, 2)) for one in found.tried)
        blocks.append(
            Table(
                caption="Each way of correcting, on rides left out in turn",
                columns=(
                    Column(heading="correction", numeric=False),
                    Column(heading="root mean square", unit="%"),
                    Column(heading="95 % of rides within", unit="%"),
                ),
                rows=rows,
            )
        )
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))
