"""How much memory a process has taken at most."""

from pathlib import Path


def now_bytes(process: int | str = "self") -> int:
    """Return the memory that a process holds [bytes]."""
    return _bytes(process, "VmRSS")


def peak_bytes(process: int | str = "self") -> int:
    """Return the most memory that a process has held since its program began [bytes].

    Parameters
    ----------
    process : int or "self"
        Its number.
    """
    return _bytes(process, "VmHWM")


def _bytes(process: int | str, what: str) -> int:
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    (found,) = (line.split()[1] for line in lines if line.startswith(what))
    return 1024 * int(found)
