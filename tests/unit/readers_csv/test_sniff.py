"""What is a table and what is none."""

from __future__ import annotations

import json

import pytest

from tests.unit.readers_csv.reading import sniffed, table

NO_TABLES: dict[str, str | bytes] = {
    "nothing": b"",
    "blanks": b" \n\n \n",
    "prose": "The ride began at 10:00, after a warm-up of 12 minutes, and ended at 11:05.\nPower was 200 W, mostly.\n"
    * 20,
    "xml": '<?xml version="1.0"?>\n<a>\n' + "1,2,3\n" * 50 + "</a>",
    "html": "<html><body>\n" + "0,150\n" * 50,
    "json": json.dumps({"time": list(range(50)), "power": list(range(50))}, indent=1),
    "json lines": "\n".join(json.dumps({"t": i, "p": 150}) for i in range(50)),
    "json array": json.dumps([[i, 150] for i in range(50)]),
    "python": "import numpy\n\n\ndef f(a, b):\n    x = [1, 2, 3]\n    return a, b, 3\n" * 10,
    "c array": "int x[] = {\n"
    + "    1, 2, 3, 4,\n" * 3
    + "};\nint main(void) {\n  int a = 1, b = 2;\n  return a;\n}\n" * 5,
    "toml": "[table]\na = 1\nb = 2\n[time]\nkind = 3\n" * 5,
    "log": "\n".join(f"2026-01-12 10:00:{i:02d},123 INFO started the ride with 3 sensors" for i in range(50)),
    "binary": bytes(range(256)) * 20,
    "zip": b"PK\x03\x04" + bytes(range(256)) * 5,
    "words": "name,city\nann,ghent\nbob,lille\n" * 10,
    "one column": "power\n" + "150\n" * 50,
    "sentinels": b"\xff" * 500,
}


@pytest.mark.parametrize("kind", NO_TABLES)
def test_what_is_no_table(kind: str) -> None:
    assert not sniffed(NO_TABLES[kind])


TABLES: dict[str, str] = {
    "plain": table("time,power", lambda i: f"{i},150"),
    "two rows": table("time,power", lambda i: f"{i},150", 2),
    "one row": table("time,power", lambda i: f"{i},150", 1),
    "strange headings": table("a,b,c", lambda i: f"{i},150,80"),
    "no headings": "\n".join(f"{i},150" for i in range(20)),
    "empty at first": table("time,power,hr", lambda i: f"{i},,"),
    "long preamble": "# remark\n" * 600 + table("time,power", lambda i: f"{i},150"),
}


@pytest.mark.parametrize("kind", TABLES)
def test_what_is_a_table(kind: str) -> None:
    assert sniffed(TABLES[kind])


def test_a_head_cut_in_a_character_or_a_row() -> None:
    text = table("time;power;note", lambda i: f"{i};150;größe", 6000)
    for cut in (60_000, 60_001, 60_002, 60_003):
        assert sniffed(text.encode()[:cut])
        assert sniffed(text.encode("utf-16")[:cut])
