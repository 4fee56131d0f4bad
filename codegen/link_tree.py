"""The headers of the serial commands as a tree of words, laid out as the C parser walks it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from codegen.rendering import short_form
from timing.protocol.commands import Command


@dataclass(frozen=True)
class Word:
    """One entry of the table; with an empty text the end of those that may stand in one place."""

    text: str = ""
    """With what its short form leaves out in brackets: 'SYST[EM]'."""
    leads_to: str = "0"
    """As C writes it: a command, or a node with the place of its first word."""
    about: str = ""
    """For a comment: which headers it is part of."""


@dataclass(frozen=True)
class LinkTree:
    """All words, those of the root first."""

    words: tuple[Word, ...]
    texts: dict[str, str]
    """Name of the C text by its content; words that are spelled the same share one."""


@dataclass
class _Node:
    header: str
    commands: dict[str, str] = field(default_factory=dict)
    nodes: dict[str, _Node] = field(default_factory=dict)


def link_tree(commands: Iterable[Command]) -> LinkTree:
    """Return the tree of the headers of `commands`, optional words included."""
    root = _Node("")
    for command in commands:
        for header in command.headers:
            *path, last = header.split(":")
            node = root
            for word in path:
                node = node.nodes.setdefault(word, _Node(f"{node.header}{word}:"))
            node.commands[last] = f"COMMAND_{command.name.upper()}"
    groups = _breadth_first(root)
    first: dict[int, int] = {}
    place = 0
    for node in groups:
        first[id(node)] = place
        place += len(node.commands) + len(node.nodes) + 1
    words: list[Word] = []
    for node in groups:
        words += [Word(short_form(word), what, f"{node.header}{word}") for word, what in node.commands.items()]
        words += [
            Word(short_form(word), f"NODE | {first[id(below)]}u", below.header) for word, below in node.nodes.items()
        ]
        words.append(Word())
    texts = sorted({word.text for word in words if word.text})
    names = {text: "word_" + re.sub(r"\W+", "", text.replace("*", "common_").replace("?", "_query")) for text in texts}
    return LinkTree(tuple(words), names)


def _breadth_first(root: _Node) -> list[_Node]:
    found = [root]
    for node in found:
        found += node.nodes.values()
    return found
