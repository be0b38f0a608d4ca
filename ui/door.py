"""The page's front door: without the key there is a field to type it in, and nothing else.

It stands before everything that the server answers, so that who has no key opens no session,
sends no photo and reads no picture. The key comes by the address; a cookie then goes with all that
the page itself asks for.
"""

import time
from collections import OrderedDict, deque
from html import escape
from string import Template
from urllib.parse import urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ui.gate import COOKIE, has_come_in, is_ours, may_enter, token

#: Where whoever starts the page asks whether it is up.
HEALTH = "/_stcore/health"
#: Wrong keys that one address may try in a minute; addresses that are remembered.
MOST_TRIES, TRIES_SECONDS, MOST_ADDRESSES = 20, 60.0, 1000

#: Whom a browser that shows the page may ask: this server alone. The page's library writes styles
#: and reads its charts' formulas in the page itself.
_POLICY = (
    "default-src 'self' data: blob: 'unsafe-inline' 'unsafe-eval'; "
    "connect-src 'self' data: blob: ws://{host} wss://{host}; "
    "form-action 'self'; base-uri 'self'; object-src 'none'; frame-ancestors 'self'"
)
_ASK = Template(
    """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Coilreckon</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
  :root { color-scheme: light dark; font: 17px/1.5 system-ui, sans-serif; }
  body { margin: 0 auto; padding: 2rem 1rem; max-width: 30rem;
    background: light-dark(#FBFAF6, #12191E); color: light-dark(#1C2830, #E8E9E3); }
  input, button { font: inherit; min-height: 2.9rem; width: 100%; box-sizing: border-box;
    padding: 0 0.7rem; margin-top: 0.5rem; border-radius: 0.5rem; color: inherit;
    border: 1px solid light-dark(#7A8288, #7F8C93); background: transparent; }
  button { background: light-dark(#1B5E72, #6FC3D6); color: light-dark(#FFF, #12191E); border: 0; }
</style></head><body><main><h1>Coilreckon</h1>
<p>$told</p>
<form method="get"><label for="key">or type the key</label>
<input id="key" name="key" autocomplete="off" autocapitalize="none" autocorrect="off" required>
$kept<button>Open the page</button></form></main></body></html>
"""
)
_WHOLE = "Open the page by its whole address, with the key in it: scan the code once more."
_WRONG = "This key is not the one of this start of the page."
_NOT_OURS = "This page answers to its own address only; COILRECKON_HOSTS names others."
_FOREIGN = "Another site's page asks for this one: nothing is answered."
_WAIT = "Too many wrong keys came from your address: wait a minute."


class Door:
    """Admits who has the key, and tells browsers to ask nobody else for anything.

    Parameters
    ----------
    app : ASGI application
        What lies behind it.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._tries: OrderedDict[str, deque[float]] = OrderedDict()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] not in ("http", "websocket") or scope["path"] == HEALTH:
            await self._app(scope, receive, send)
            return
        asked = HTTPConnection(scope)
        if not is_ours(asked.headers.get("host", "")):
            await _shut(scope, receive, send, PlainTextResponse(_NOT_OURS, 403))
            return
        if not _is_own_page(asked):
            await _shut(scope, receive, send, PlainTextResponse(_FOREIGN, 403))
            return
        typed = asked.query_params.get("key")
        waits = self._has_tried_much(_address(asked))
        if has_come_in(asked.cookies.get(COOKIE)) or (may_enter(typed) and not waits):
            await self._app(scope, receive, _with_headers(send, asked))
            return
        if typed is not None:
            self._remember(_address(asked))
        told = _WAIT if waits else _WHOLE if typed is None else _WRONG
        answer = HTMLResponse(_form(asked, told), 429 if waits else 403)
        await _shut(scope, receive, _with_headers(send, asked), answer)

    def _has_tried_much(self, address: str) -> bool:
        now = time.monotonic()
        recent = [at for at in self._tries.get(address, ()) if now - at < TRIES_SECONDS]
        return len(recent) >= MOST_TRIES

    def _remember(self, address: str) -> None:
        self._tries.setdefault(address, deque(maxlen=MOST_TRIES)).append(time.monotonic())
        self._tries.move_to_end(address)
        while len(self._tries) > MOST_ADDRESSES:
            self._tries.popitem(last=False)


async def _shut(scope: Scope, receive: Receive, send: Send, answer: Response) -> None:
    """Refuse a request: a page to one that can show it, the bare end to a socket."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008})
    else:
        await answer(scope, receive, send)


def _is_own_page(asked: HTTPConnection) -> bool:
    """Tell whether no other site's page is asking; browsers name its origin wherever it matters.

    The page's library would refuse it, too, but ask a server elsewhere first who it is itself.
    """
    origin = asked.headers.get("origin")
    try:
        return origin is None or urlsplit(origin).netloc == asked.headers.get("host")
    except ValueError:
        return False


def _address(asked: HTTPConnection) -> str:
    return asked.client.host if asked.client else ""


def _form(asked: HTTPConnection, told: str) -> str:
    """Return the page that asks for the key and keeps what else stands in the address."""
    kept = "".join(
        f'<input type="hidden" name="{escape(name)}" value="{escape(value)}">'
        for name, value in asked.query_params.multi_items()
        if name != "key"
    )
    return _ASK.substitute(told=escape(told), kept=kept)


def _with_headers(send: Send, asked: HTTPConnection) -> Send:
    """Return `send` that adds what browsers are to keep to, and the cookie where a key came."""
    typed = asked.query_params.get("key")

    async def send_more(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            host = asked.headers.get("host", "")
            headers["content-security-policy"] = _POLICY.format(host=_plain_host(host))
            headers["referrer-policy"] = "same-origin"
            headers["x-content-type-options"] = "nosniff"
            if typed and may_enter(typed):
                secure = "; Secure" if asked.url.scheme in ("https", "wss") else ""
                cookie = f"{COOKIE}={token()}; Path=/; HttpOnly; SameSite=Lax{secure}"
                headers.append("set-cookie", cookie)
        await send(message)

    return send_more


def _plain_host(host: str) -> str:
    """Return a Host header's text if it is a name and a port, and nothing that a policy reads."""
    return host if host and all(c.isalnum() or c in ".:-[]_" for c in host) else "localhost"
