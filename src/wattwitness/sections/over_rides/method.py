"""How it was judged: rule, reference, settings, and what was left aside."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.study import Study
from wattwitness.sections.building import Block
from wattwitness.words.names import clean
from wattwitness.words.numbers import NBSP, number, quantity

NAME = "method"
TITLE = "How it was judged"


def build(study: Study, unused: Sequence[tuple[str, str]]) -> Section:
    """Sentences on the method, the risk at fixed errors of the reference, and files that were not used."""
    verdict = study.verdicts.trueness
    blocks: list[Block] = [
        Paragraph(
            text=(
                "Rides are taken as draws from many (random effects; between-ride variance by restricted maximum "
                "likelihood and by Paule and Mandel; Hartung and Knapp’s interval). Each ride’s bias is carried to one "
                "power and cadence by its own fitted gain and zero. The reference’s standard uncertainty of "
                f"{quantity(study.reference_uncertainty_pct, '%')} is the same in every ride and is never divided by "
                f"their number. Decision rule: {verdict.rule.value.replace('_', ' ')}."
            )
        )
    ]
    if verdict.risks.at_fixed:
        blocks.append(
            Table(
                caption="Probability that the claim is met, if the reference read so much too high",
                columns=(Column(heading="reference’s error", unit="%"), Column(heading="probability", unit="%")),
                rows=tuple(
                    (number(error, 2, signed=True), number(100 * chance, 1)) for error, chance in verdict.risks.at_fixed
                ),
            )
        )
    if unused:
        blocks.append(Paragraph(text="Files that belong to no ride:", tone=Tone.NOTE))
        blocks.append(
            Table(
                caption="Not used",
                columns=(Column(heading="file", numeric=False), Column(heading="why", numeric=False)),
                rows=tuple((clean(Path(file).name), why) for file, why in unused),
            )
        )
    blocks.append(Paragraph(text=f"wattwitness{NBSP}{study.version}", tone=Tone.NOTE))
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))
