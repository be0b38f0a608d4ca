import socket

import pytest

from ui.serve import free_port


def test_a_taken_port_is_named_and_a_free_one_found():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(OSError, match=f"port {port} is taken"):
            free_port(port)
    assert free_port(0) > 0
