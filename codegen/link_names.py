"""What the templates of the serial link are told, on whichever board: commands, errors, status, heads of files."""

from __future__ import annotations

from collections.abc import Sequence

from codegen.link_tree import link_tree
from timing.protocol import commands, status
from timing.protocol.resets import FIRST_ON_LAMP, Reset

LINK_TEMPLATES = "common/link"
"""Folder of the templates that the sketches of all boards share."""


def link_names(
    own: Sequence[commands.Command],
    shown: Sequence[status.StatusCondition],
    made_for: str,
    made_from: str,
    version: str,
) -> dict[str, object]:
    """Return the names that the templates of `common/link` may use.

    own: the commands that the board carries out. shown: what its status registers show. made_for, made_from: lines at
    the head of each file, for people. version: of this tool.
    """
    return {
        "made_for": made_for,
        "made_from": made_from,
        "version": version,
        "link": commands,
        "commands": own,
        "tree": link_tree(own),
        "longest_answers": max(len(command.answers) for command in own),
        "most_takes": max(len(command.takes) for command in own),
        "number_parts": commands.NEXT_PARTS,
        "conditions": shown,
        "registers": status.Register,
        "register_mask": status.REGISTER_MASK,
        "errors": status.ERRORS,
        "no_error": status.NO_ERROR_TEXT,
        "event_bit": status.EventBit,
        "status_bit": status.StatusBit,
        "Reset": Reset,
        "FIRST_ON_LAMP": FIRST_ON_LAMP,
    }
