"""No address of an equipment maker, a shop, a forum or a sharing site stands anywhere in the tree."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.support.tree import ROOT, lines, tracked

ALLOWED = {
    "www.w3.org": "World Wide Web Consortium: names of its formats",
    "json-schema.org": "the schema standard",
    "std.iec.ch": "International Electrotechnical Commission",
    "docs.rs": "documentation of open-source libraries",
    "github.com": "open-source libraries",
    "python.org": "the language's own project",
    "socket.io": "a software project, by which the page talks to its server",
    "127.0.0.1": "this machine",
    "localhost": "this machine",
}
"""Standards bodies, journals, universities and software projects, and why each is there."""

RESERVED = re.compile(r"(.+\.)?(example|invalid|test|localhost)|(.+\.)?example\.(com|net|org)")
"""Names that belong to nobody (RFC 2606)."""

ENDINGS = (
    "com|net|org|edu|gov|int|info|biz|shop|store|guru|blog|site|online|io|co|eu|us|uk|ca|au|nz|de|at|ch|fr|it|es|nl|be|"
    "pl|cz|ro|ru|ua|tr|in|cn|jp|kr|tw|br|mx|se|no|fi|dk"
)
ADDRESS = re.compile(r"https?://(?P<host>[\w-]+(?:\.[\w-]+)+|localhost)")
BARE = re.compile(rf"(?<![\w.@/-])(?P<host>(?:[a-z0-9-]+\.)+(?:{ENDINGS}))(?![\w-]|\.\w|\()")
"""A host without an address about it, in small letters as hosts are written."""


def hosts(text: str) -> set[str]:
    """Return the hosts that a text names."""
    return {found["host"] for pattern in (ADDRESS, BARE) for found in pattern.finditer(text)}


def foreign(path: Path) -> list[str]:
    """Return where a file names a host that is not allowed."""
    return [
        f"{path.relative_to(ROOT)}:{number}: {host}"
        for number, text in lines(path)
        for host in sorted(hosts(text))
        if host not in ALLOWED and not RESERVED.fullmatch(host)
    ]


def test_only_hosts_of_the_list_stand_in_the_tree() -> None:
    assert [place for path in tracked() for place in foreign(path)] == []


def test_every_allowed_host_is_needed() -> None:
    named = {host for path in tracked() for _, text in lines(path) for host in hosts(text)}
    assert set(ALLOWED) - named == set()


DOT = "."
"""Keeps this file's own examples from being found in it."""


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Seen: https://www.maker.example/handbook/page_10.htm.", {"www.maker.example"}),
        (f"(a forum, some-forum{DOT}de, seen)", {f"some-forum{DOT}de"}),
        (f"a table (tables{DOT}guru 945678)", {f"tables{DOT}guru"}),
        ("sheet.net(board.ref, name)", set()),
        ('xmlns="http://www.w3.org/2000/svg"', {"www.w3.org"}),
    ],
)
def test_a_host_is_found_with_its_address_and_without(text: str, found: set[str]) -> None:
    assert hosts(text) == found
