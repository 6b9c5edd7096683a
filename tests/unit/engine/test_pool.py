"""Work over all cores: in order, errors where they belong."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

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


def test_workers_end_with_the_process_that_started_them() -> None:
    """The kill of a crash leaves no worker behind that waits for ever."""
    code = (
        "import os, sys, time\n"
        "from wattwitness.engine.pool import in_order\n"
        "from tests.unit.engine.test_pool import square\n"
        "if __name__ == '__main__':\n"
        "    answers = in_order(square, range(4), processes=2)\n"
        "    print(next(answers)[1], flush=True)\n"
        "    time.sleep(60)\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "starts_workers.py"
        script.write_text(code)
        child = subprocess.Popen(
            [sys.executable, script],
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
        assert child.stdout is not None
        worker = int(child.stdout.readline())
        child.kill()
        child.communicate(timeout=30)
        for _ in range(200):
            if not _lives(worker):
                break
            time.sleep(0.05)
        assert not _lives(worker)


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except (ProcessLookupError, FileNotFoundError):
        return False
    return state != "Z"
