"""The table of many photos as a file: Parquet, or CSV for a spreadsheet."""

import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from ui.cells import guarded
from ui.files import write_whole
from ui.many import flat


def write_table(path: Path, told: Sequence[Mapping[str, Any]]) -> None:
    """Write objects of the contract, a row each, as a whole or not at all.

    Parameters
    ----------
    path : Path
        Ends in ``.parquet`` or ``.csv``.
    told : sequence of mapping
        As ``measure --json`` prints them.

    Raises
    ------
    OSError
        If the folder is full or may not be written to.
    """
    table = pd.DataFrame([flat(one) for one in told])
    if path.suffix == ".parquet":
        out = io.BytesIO()
        table.to_parquet(out, index=False)
        write_whole(path, out.getvalue())
        return
    words = table.select_dtypes(exclude="number").columns
    for name in words:
        table[name] = [guarded(cell) if isinstance(cell, str) else cell for cell in table[name]]
    write_whole(path, table.to_csv(index=False).encode())
