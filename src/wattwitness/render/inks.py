"""Colours of a static figure by the ground it stands on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.chart import Role


class Ground(StrEnum):
    """What a figure is drawn on: white paper, a dark screen, or nothing, to be laid over light or dark."""

    WHITE = "white"
    DARK = "dark"
    OVER_LIGHT = "over_light"
    OVER_DARK = "over_dark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Inks:
    """Colours of paper (``none``: transparent), of words, of the grid and of each role."""

    paper: str
    ink: str
    soft: str
    grid: str
    roles: dict[Role, str]

    @property
    def rim(self) -> str:
        """What parts a filled point from the line behind it."""
        return self.paper


# After Okabe & Ito, darkened where a thin line on white needs it, lightened where one on black does.
ON_LIGHT = {
    Role.REFERENCE: "#16202c",
    Role.EXPECTED: "#0072b2",
    Role.UNIT: "#d55e00",
    Role.OTHER: "#009e73",
    Role.DIFFERENCE: "#0072b2",
    Role.INTERVAL: "#d55e00",
    Role.LIMIT: "#a3557f",
    Role.FAULT: "#b57d00",
}
ON_DARK = {
    Role.REFERENCE: "#e8edf3",
    Role.EXPECTED: "#56b4e9",
    Role.UNIT: "#f0803c",
    Role.OTHER: "#2fc79a",
    Role.DIFFERENCE: "#56b4e9",
    Role.INTERVAL: "#f0803c",
    Role.LIMIT: "#d692b6",
    Role.FAULT: "#e69f00",
}
INKS = {
    Ground.WHITE: Inks(paper="white", ink="#16202c", soft="#4b5968", grid="#dfe5eb", roles=ON_LIGHT),
    Ground.DARK: Inks(paper="#10161d", ink="#f1f4f8", soft="#b9c4d0", grid="#2c3743", roles=ON_DARK),
    # A grid that lets through what lies beneath keeps its place over any picture.
    Ground.OVER_LIGHT: Inks(paper="none", ink="#16202c", soft="#33404d", grid="#16202c38", roles=ON_LIGHT),
    Ground.OVER_DARK: Inks(paper="none", ink="#ffffff", soft="#dbe3eb", grid="#ffffff48", roles=ON_DARK),
}
