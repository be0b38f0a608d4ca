"""Starts the page, for this machine alone or for phones on the local network."""

import io
import os
import secrets
import socket
import sys
from collections.abc import Mapping
from pathlib import Path

import qrcode

from ui.gate import HOSTS_VARIABLE, KEY_VARIABLE

FRONT = Path(__file__).with_name("front.py")
HERE, FIRST_PORT = "127.0.0.1", 8710

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
    "--logger.enableRich=false",  # which would write what failed to the output that is shut
    f"--theme.base={Path(__file__).with_name('look.toml')}",
)


def free_port(wanted: int, address: str = HERE) -> int:
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


def lan_address() -> str:
    """Return this machine's address on the local network.

    Raises
    ------
    OSError
        If it is on none; the message says what to do.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: the address is that of the way out (RFC 5737's example network).
            probe.connect(("192.0.2.1", 9))
        except OSError:
            raise OSError("this machine is on no network; join the phone's Wi-Fi first") from None
        address = str(probe.getsockname()[0])
    if address.startswith("127."):
        raise OSError("this machine is on no network; join the phone's Wi-Fi first")
    return address


def qr_lines(text: str) -> str:
    """Return a QR code for a dark or a light terminal, two rows of it in a line."""
    code = qrcode.QRCode(border=2)
    code.add_data(text)
    out = io.StringIO()
    code.print_ascii(out, invert=True)
    return out.getvalue()


def start(
    port: int = 0,
    phone: bool = False,
    certificate: tuple[Path, Path] | None = None,
    listen: str | None = None,
) -> None:
    """Become the page's server; it ends with Ctrl+C.

    Parameters
    ----------
    port : int
        Port, 0 for a free one [-].
    phone : bool
        Whether phones on the local network may open it, by an address with a key that is made
        anew at each start unless the environment has one; else this machine alone may.
    certificate : tuple of Path, optional
        Files of the certificate and of its key, for HTTPS.
    listen : str, optional
        Address to listen on, behind a proxy. Others than this machine may then ask, so that there
        is a key, unless the environment names the hosts that the proxy answers for.

    Raises
    ------
    OSError
        If the port is taken, a file is not there, or the machine is on no network.
    """
    address = listen or (lan_address() if phone else HERE)
    port = free_port(port, address)
    settings = list(SETTINGS)
    for name, path in zip(("sslCertFile", "sslKeyFile"), certificate or (), strict=False):
        if not path.is_file():
            raise OSError(f"there is no file {path}")
        settings.append(f"--server.{name}={path}")
    where = f"{'https' if certificate else 'http'}://{address}:{port}"
    environment = {**os.environ, "STREAMLIT_LOGGER_LEVEL": "warning"}
    if phone or (address != HERE and not environment.get(HOSTS_VARIABLE)):
        environment.setdefault(KEY_VARIABLE, secrets.token_urlsafe(9))
        where += f"/?key={environment[KEY_VARIABLE]}"
        print(qr_lines(where) if phone else "")
    print(f"Coilreckon: open {where} (Ctrl+C ends it)", flush=True)
    # The server's own greeting would name the address a second time.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    command = [sys.executable, "-m", "streamlit", "run", str(FRONT)]
    command += [f"--server.address={address}", f"--server.port={port}", *settings]
    # Where it listens on all, it would ask a server elsewhere for its address, to print that.
    command.append(f"--browser.serverAddress={_called(address, environment)}")
    os.execve(sys.executable, command, environment)


def _called(address: str, environment: Mapping[str, str]) -> str:
    """Return by what name browsers call the page: the proxy's first, or where it listens."""
    named = [name for name in environment.get(HOSTS_VARIABLE, "").split(",") if name]
    return (named or [address])[0]
