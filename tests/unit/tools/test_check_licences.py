"""Which licences count as open."""

from __future__ import annotations

from email.message import Message

import pytest

from tools.check_licences import is_open, licence_of


@pytest.mark.parametrize(
    ("expression", "expected"),
    [
        ("MIT", True),
        ("BSD-3-Clause AND 0BSD AND Zlib", True),
        ("(GPL-3.0-only OR MIT)", True),
        ("MIT AND LicenseRef-Proprietary", False),
        ("GPL-3.0-only", False),
        ("unknown", False),
        ("", False),
    ],
)
def test_every_part_has_to_be_open_and_one_alternative_is_enough(expression: str, expected: bool) -> None:
    """AND asks for all, OR for one; what is not known is not open."""
    assert is_open(expression) is expected


def test_a_package_that_says_nothing_is_unknown() -> None:
    """Silence is no licence."""
    metadata = Message()
    metadata["Name"] = "quiet"
    assert not is_open(licence_of("quiet", metadata))


def test_a_classifier_stands_in_for_an_expression() -> None:
    """Older packages name their licence in a classifier."""
    metadata = Message()
    metadata["Classifier"] = "License :: OSI Approved :: MIT License"
    metadata["License"] = "see the file"
    assert licence_of("older", metadata) == "MIT"
