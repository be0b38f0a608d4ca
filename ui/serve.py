"""Starts the page on this machine."""

import os
import socket
import sys
from pathlib import Path
from typing import NoReturn

APP = Path(__file__).with_name("app.py")
FIRST_PORT = 8710

#: A phone's camera app may hold the browser for minutes: its session is kept that long.
SETTINGS = (
    "--server.headless=true",
    "--server.disconnectedSessionTTL=1800",
    "--server.maxUploadSize=40",
    "--server.fileWatcherType=none",
    "--runner.magicEnabled=false",
    "--browser.gatherUsageStats=false",
    "--client.toolbarMode=minimal",
    "--client.showErrorDetails=none",
    f"--theme.base={Path(__file__).with_name('look.toml')}",
)


def free_port(wanted: int, address: str = "127.0.0.1") -> int:
    """Return the wanted port, or for 0 the first free one of a short range.

    Raises
    ------
    OSError
        If the port is taken; the message says what to do.
    """
    for port in [wanted] if wanted else range(FIRST_PORT, FIRST_PORT + 50):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((address, port))
            except OSError:
                continue
            return port
    taken = f"port {wanted} is taken" if wanted else "no port is free"
    raise OSError(f"{taken} on {address}; name another one with --port")


def start(port: int = 0) -> NoReturn:
    """Become the page's server; it ends with Ctrl+C.

    Parameters
    ----------
    port : int
        Port on 127.0.0.1, 0 for a free one [-].

    Raises
    ------
    OSError
        If the port is taken.
    """
    port = free_port(port)
    print(f"Coilreckon: open http://127.0.0.1:{port} (Ctrl+C ends it)", flush=True)
    # The server's own greeting would name the address a second time.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    command = [sys.executable, "-m", "streamlit", "run", str(APP)]
    command += ["--server.address=127.0.0.1", f"--server.port={port}", *SETTINGS]
    os.execve(sys.executable, command, {**os.environ, "STREAMLIT_LOGGER_LEVEL": "warning"})
