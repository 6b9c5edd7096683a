"""An uncertainty budget as JSON."""

from __future__ import annotations

from wattwitness.model.budget import Budget
from wattwitness.render.json_values import JsonObject, json_number, json_record


def budget_to_json(budget: Budget) -> JsonObject:
    """A budget under the names of its fields; degrees of freedom without bound are ``null``."""
    return {
        "expanded_pct": json_number(budget.expanded_pct),
        "standard_pct": json_number(budget.standard_pct),
        "level": budget.level,
        "degrees": json_number(budget.degrees),
        "coverage_factor": json_number(budget.coverage_factor),
        "monte_carlo_low_pct": json_number(budget.monte_carlo_low_pct),
        "monte_carlo_high_pct": json_number(budget.monte_carlo_high_pct),
        "common_pct": json_number(budget.common_pct),
        "reference_pct": json_number(budget.reference_pct),
        "contributions": [
            {**json_record(part), "contribution_pct": json_number(part.contribution_pct)}
            for part in budget.contributions
        ],
        "notes": list(budget.notes),
    }
