"""Files that are written as a whole or not at all."""

import os
import uuid
from pathlib import Path


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that whoever looks, at any moment, finds the one before or this one.

    Parameters
    ----------
    path : Path
        Its place; what stands there is replaced.
    data : bytes
        All of it.

    Raises
    ------
    OSError
        If the folder is full or may not be written to; then nothing has changed.
    """
    if path.exists() and not path.is_file():  # a pipe or a device is nothing to be replaced
        path.write_bytes(data)
        return
    half = path.with_name(f".{path.name[:60]}.{uuid.uuid4().hex}")
    try:
        with half.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(half, path)
    except BaseException:
        half.unlink(missing_ok=True)
        raise
