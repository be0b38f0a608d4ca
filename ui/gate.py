"""The key of the page's address: without it the page shows nothing and reads nothing."""

import hashlib
import hmac
import os
from urllib.parse import urlencode, urlsplit

KEY_VARIABLE = "COILRECKON_KEY"
#: Goes with all that a browser asks once it has come in by the key.
COOKIE = "coilreckon_key"
#: Names, with commas between, by which a page behind a proxy is called.
HOSTS_VARIABLE = "COILRECKON_HOSTS"
_HERE = ("127.0.0.1", "localhost", "::1")


def may_enter(given: str | None) -> bool:
    """Tell whether the key of an address opens the page; where none is set, all do."""
    wanted = os.environ.get(KEY_VARIABLE)
    return not wanted or hmac.compare_digest((given or "").encode(), wanted.encode())


def is_ours(host: str) -> bool:
    """Tell whether a request's Host header names this page, where no key protects it.

    Another site's name can be made to point at this machine (DNS rebinding), and its scripts would
    then pass for the page's own. A page behind a proxy names its own hosts in the environment.

    Examples
    --------
    >>> is_ours("127.0.0.1:8710"), is_ours("reef.example:8710")
    (True, False)
    """
    named = os.environ.get(HOSTS_VARIABLE, "").split(",")
    try:
        name = urlsplit(f"//{host}").hostname
    except ValueError:
        name = None
    return bool(os.environ.get(KEY_VARIABLE)) or name in (*_HERE, *filter(None, named))


def token() -> str:
    """Return what a browser that has come in by the key shows from then on.

    It is the key's hash, so that any key may be typed and none stands in a cookie.
    """
    return hashlib.sha256(f"door {os.environ.get(KEY_VARIABLE)}".encode()).hexdigest()


def has_come_in(shown: str | None) -> bool:
    """Tell whether what a browser shows is the `token`; where no key is set, all have."""
    open_to_all = not os.environ.get(KEY_VARIABLE)
    return open_to_all or hmac.compare_digest((shown or "").encode(), token().encode())


def link(**query: str) -> str:
    """Return a link within the page; it carries the key, for it opens anew.

    Examples
    --------
    >>> link(by="Collection", spring="7f")
    '?by=Collection&spring=7f'
    """
    key = os.environ.get(KEY_VARIABLE)
    return "?" + urlencode({**query, "key": key} if key else query)
