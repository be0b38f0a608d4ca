"""Cells of a CSV that a spreadsheet must not take for formulas."""

#: What a formula may begin with (OWASP, CSV injection), and the mark that is put before it.
_BEGINNINGS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_MARK = "'"


def guarded(text: str) -> str:
    """Return a cell's text, marked where a spreadsheet would take it for a formula.

    Examples
    --------
    >>> guarded("=1+1"), guarded("Quay 7"), guarded("'tis")
    ("'=1+1", 'Quay 7', "''tis")
    """
    return f"{_MARK}{text}" if text.startswith((*_BEGINNINGS, _MARK)) else text


def unguarded(cell: str) -> str:
    """Return the text that `guarded` was given."""
    return cell.removeprefix(_MARK)
