"""A port for a server of a test's own."""

import socket

HOST = "127.0.0.1"


def free_port() -> int:
    """Ask the system for a loopback port that nobody uses."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])
