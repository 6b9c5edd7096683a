"""Episodes over all rides: how many, on which rides, at which minutes, and what they have in common."""

from __future__ import annotations

from wattwitness.charts import episodes_by_minute
from wattwitness.model.episodes import Finding
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.model.study import Study
from wattwitness.sections.building import Block
from wattwitness.words.estimates import counted, interval_cell, value_cell
from wattwitness.words.names import clean
from wattwitness.words.numbers import number, stretch, typeset

NAME = "episodes"
TITLE = "Faults over all rides"
SHOWN = (Finding.UNIT, Finding.UNDETERMINED, Finding.REFERENCE)


def build(study: Study) -> Section | None:
    """Nothing where episodes were looked for on no ride."""
    looked = [ride for ride in study.rides if ride.counts and ride.faults_looked_for]
    if not looked:
        return None
    hours = sum(ride.hours for ride in looked)
    found = [(ride, one) for ride in looked for one in ride.episodes if one.finding in SHOWN]
    own = sum(one.finding is Finding.UNIT for _, one in found)
    lead = f"In {number(hours, 1)} h on {counted(len(looked), 'ride')} the unit was at fault {counted(own, 'time')}."
    if not found:
        lead = f"No episode was found in {number(hours, 1)} h on {counted(len(looked), 'ride')}."
    blocks: list[Block] = [Paragraph(text=lead)]
    blocks += [Paragraph(text=typeset(pattern.says)) for pattern in study.episode_patterns]
    if any(one.finding is not Finding.REFERENCE for _, one in found):
        blocks.append(episodes_by_minute.build(study))
    if found:
        blocks.append(
            Table(
                caption="Every episode but those in which the rider eased off",
                columns=(
                    Column(heading="ride", numeric=False),
                    Column(heading="kind", numeric=False),
                    Column(heading="from, to", numeric=False),
                    Column(heading="depth", unit="%"),
                    Column(heading="interval", unit="%"),
                    Column(heading="finding", numeric=False),
                ),
                rows=tuple(
                    (
                        clean(ride.name),
                        one.kind.value.replace("_", " "),
                        stretch(one.start_s, one.end_s),
                        value_cell(one.depth_pct),
                        interval_cell(one.depth_pct),
                        one.finding.value,
                    )
                    for ride, one in found
                ),
            )
        )
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))
