"""The relay that stands in for a network: it goes on though both ends of a connection end in one round."""

import socket

from frozen_wire import FrozenWire


def test_a_connection_both_ends_of_which_have_ended_leaves_the_relay_at_work() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server, FrozenWire(server.getsockname()[1]) as wire:
        near = socket.create_connection(("127.0.0.1", wire.port))
        far, _ = server.accept()
        wire.frozen = True
        near.sendall(b"last")
        far.close()
        near.close()
        wire.frozen = False
        with socket.create_connection(("127.0.0.1", wire.port), timeout=5.0) as again:
            accepted, _ = server.accept()
            with accepted:
                again.sendall(b"word")
                assert accepted.recv(4) == b"word"
