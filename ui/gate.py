"""The key of the page's address: without it the page shows nothing and reads nothing."""

import hmac
import os
from urllib.parse import urlencode

KEY_VARIABLE = "COILRECKON_KEY"


def may_enter(given: str | None) -> bool:
    """Tell whether the key of an address opens the page; where none is set, all do."""
    wanted = os.environ.get(KEY_VARIABLE)
    return not wanted or hmac.compare_digest((given or "").encode(), wanted.encode())


def link(**query: str) -> str:
    """Return a link within the page; it carries the key, for it opens anew.

    Examples
    --------
    >>> link(by="Collection", spring="7f")
    '?by=Collection&spring=7f'
    """
    key = os.environ.get(KEY_VARIABLE)
    return "?" + urlencode({**query, "key": key} if key else query)
