"""The place on this machine where a preview is served."""

from __future__ import annotations

import socket

from catalog.errors import InputRefused

LOOPBACK = "127.0.0.1"
NAMES = (LOOPBACK, "localhost")


def socket_of(port: int) -> socket.socket:
    """A socket on the loopback address; port 0 takes any that is free.

    Raises  InputRefused when the port is taken or needs more rights.
    """
    taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        taken.bind((LOOPBACK, port))
        taken.listen()
    except OSError as failure:
        taken.close()
        reason = (failure.strerror or str(failure)).lower()
        raise InputRefused(f"Port {port} cannot be used: {reason}. Name another with --port.") from failure
    return taken
