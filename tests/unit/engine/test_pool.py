"""Work over all cores: in order, errors where they belong."""

from __future__ import annotations

import os

import pytest

from wattwitness.engine.pool import in_order


def square(number: int) -> tuple[int, int]:
    if number < 0:
        raise ValueError("below zero")
    return number * number, os.getpid()


def test_few_items_need_no_other_process() -> None:
    assert [answer for answer, _ in in_order(square, [3, 1])] == [9, 1]
    assert {process for _, process in in_order(square, [3, 1])} == {os.getpid()}


def test_many_items_keep_their_order_in_other_processes() -> None:
    answers = list(in_order(square, range(7), processes=2))
    assert [answer for answer, _ in answers] == [0, 1, 4, 9, 16, 25, 36]
    assert os.getpid() not in {process for _, process in answers}


def test_an_error_comes_where_its_answer_would() -> None:
    answers = in_order(square, [1, 2, -1], processes=2)
    assert next(answers)[0] == 1
    assert next(answers)[0] == 4
    with pytest.raises(ValueError, match="below zero"):
        next(answers)
