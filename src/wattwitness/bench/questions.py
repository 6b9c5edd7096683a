"""What is asked of each unit, and the claims a tester has written down, as strict JSON in the catalogue."""

from __future__ import annotations

from dataclasses import replace

import sqlalchemy as sa

from wattwitness.bench.changes import Record
from wattwitness.bench.json_form import from_text, to_text
from wattwitness.bench.tables import CLAIMS, STUDIES
from wattwitness.model.claim import Claim, ClaimStatus
from wattwitness.model.ride_list import ListedStudy


def question_of(connection: sa.Connection, unit_id: int) -> ListedStudy | None:
    """What is asked of a unit, without its rides; ``None`` where nothing was said.

    Raises ValueError where the text is not one that this program wrote.
    """
    text = connection.execute(sa.select(STUDIES.c.question).where(STUDIES.c.unit_id == unit_id)).scalar()
    return None if text is None else from_text(ListedStudy, text)


def put_question(connection: sa.Connection, record: Record, unit_id: int, asked: ListedStudy) -> bool:
    """Write down what is asked of a unit, in place of what was; ``False`` where it was asked already.

    A claim that somebody stated is written down under its source too, so that other units can be held against it.
    """
    text = to_text(replace(asked, rides=(), unit=""))
    known = connection.execute(sa.select(STUDIES.c.id).where(STUDIES.c.unit_id == unit_id)).scalar()
    if known is None:
        record.add(STUDIES, unit_id=unit_id, question=text)
    elif not record.change(STUDIES, known, question=text):
        return False
    if asked.claim is not None and asked.claim.status is ClaimStatus.STATED:
        _put_claim(connection, record, replace(asked.claim, name=asked.claim.source))
    return True


def claims_of(connection: sa.Connection) -> list[Claim]:
    """The claims that were written down, in the order they came. Raises ValueError as ``question_of``."""
    texts = connection.execute(sa.select(CLAIMS.c.claim).order_by(CLAIMS.c.id)).scalars()
    return [from_text(Claim, text) for text in texts]


def _put_claim(connection: sa.Connection, record: Record, claim: Claim) -> None:
    """Write down a claim, in place of one of the same name."""
    known = connection.execute(sa.select(CLAIMS.c.id).where(CLAIMS.c.name == claim.name)).scalar()
    if known is None:
        record.add(CLAIMS, name=claim.name, claim=to_text(claim))
    else:
        record.change(CLAIMS, known, claim=to_text(claim))
