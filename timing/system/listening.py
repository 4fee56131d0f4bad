"""A socket that listens on this machine alone."""

from __future__ import annotations

import socket
import sys

THIS_MACHINE = "127.0.0.1"


def listening_alone(port: int) -> socket.socket:
    """Return a socket that listens on a TCP port of this machine, for this machine; 0 finds a free one.

    No other program can share the port. Raises OSError, or OverflowError for a number that is no port.
    """
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform == "win32":
            # There SO_REUSEADDR would let another program take the port beside this one.
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            # Elsewhere it only means that a port can be had again at once after its last use.
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((THIS_MACHINE, port))
        listener.listen()
    except BaseException:
        listener.close()
        raise
    return listener
