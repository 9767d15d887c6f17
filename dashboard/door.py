"""Who comes in, decided before anything is served: by the host that was asked for, the page that asks, and a key."""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocketClose

__all__ = ["ANY_HOST", "Door", "settings_of"]

ANY_HOST = "*"
_COOKIE = "flavour-bench-key"
_ASKED = "key"
_SAFE = ("GET", "HEAD", "OPTIONS")
_LOGIN = re.compile(
    r"/(?:[\w-]*|static/.*|app/static/[\w-]+\.woff2|_stcore/(?:health|host-config|stream)|auth/log(?:in|out))"
)
"""What the page needs on which people sign in: the empty application, its font, the way to the provider and back."""
_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Content-Security-Policy": "frame-ancestors 'none'; base-uri 'self'; object-src 'none'",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
"""No page elsewhere may frame what is served here, read it, or learn the address with its key."""


class Door:
    """An ASGI application around another one, that lets in who may come in.

    Parameters
    ----------
    app : ASGI application
    hosts : iterable of str
        Names and addresses by which this server is asked for; ``"*"`` for every one. A page elsewhere that points its
        own name at this address (DNS rebinding) asks by that name, and is refused.
    key : str, optional
        Where given, nothing is served without it: ``?key=…`` in the address is exchanged for a cookie.
    signed_in : callable, optional
        Tells from the cookies whether somebody is signed in; others are served the page to sign in and no more.

    Notes
    -----
    A request that would change something, and every WebSocket, has to come from a page of this server: a browser says
    so in ``Origin`` (RFC 6455, section 10.2).
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        hosts: Iterable[str],
        key: str | None = None,
        signed_in: Callable[[Mapping[str, str]], bool] | None = None,
    ) -> None:
        self.app, self.hosts, self.key = app, frozenset(host.lower() for host in hosts), key
        self.signed_in = signed_in

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or let the application answer it."""
        if scope["type"] not in ("http", "websocket"):
            return await self.app(scope, receive, send)
        came = HTTPConnection(scope)
        answer = self._refusal(came, scope.get("method", "")) or self._exchange(came)

        async def closed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(_HEADERS)
                if "access-control-allow-origin" in headers:
                    del headers["access-control-allow-origin"]
            await send(message)

        if answer is None:
            await self.app(scope, receive, closed)
        elif scope["type"] == "websocket":
            await WebSocketClose(1008)(scope, receive, send)
        else:
            await answer(scope, receive, closed)

    def _refusal(self, came: HTTPConnection, method: str) -> Response | None:
        host = _name(came.headers)
        if ANY_HOST not in self.hosts and host not in self.hosts:
            return _no(f"This bench does not go by the name {host!r}; start it with --host {host} if it should.")
        origin = came.headers.get("origin")
        own = origin is not None and urlsplit(origin).netloc.lower() == came.headers.get("host", "").lower()
        if not own and (came.scope["type"] == "websocket" or method not in _SAFE):
            return _no("A page of another address may not talk to this bench.")
        if self.signed_in and not _LOGIN.fullmatch(came.scope["path"]) and not self.signed_in(came.cookies):
            return _no("This is for who is signed in.")
        return None

    def _exchange(self, came: HTTPConnection) -> Response | None:
        """Return what to answer whoever has not shown the key in a cookie; None who has."""
        if self.key is None:
            return None
        held = came.cookies.get(_COOKIE, "")
        if hmac.compare_digest(held.encode(), _cookie(self.key).encode()):
            return None
        asked = parse_qsl(came.scope.get("query_string", b"").decode("latin-1"), keep_blank_values=True)
        shown = dict(asked).get(_ASKED, "")
        if came.scope["type"] == "websocket" or not hmac.compare_digest(shown.encode(), self.key.encode()):
            return _no(
                "This bench opens with its key: scan the code, or open the whole address that it was started with."
            )
        rest = urlencode([(name, value) for name, value in asked if name != _ASKED])
        path = "/" + quote(came.scope["path"].lstrip("/"))
        answer = RedirectResponse(path + ("?" + rest if rest else ""), status_code=303)
        answer.set_cookie(_COOKIE, _cookie(self.key), httponly=True, samesite="lax", secure=came.url.scheme == "https")
        return answer


def _name(headers: Headers) -> str:
    """Return the host that was asked for, without its port."""
    try:
        return (urlsplit("//" + headers.get("host", "")).hostname or "").rstrip(".")
    except ValueError:
        return ""


def _no(why: str) -> Response:
    return PlainTextResponse(why + "\n", status_code=403)


def _cookie(key: str) -> str:
    """Return what stands in the cookie: not the key, so that it opens no other browser by its address."""
    return hashlib.sha256(f"cookie of {key}".encode()).hexdigest()


def _signed_in(cookies: Mapping[str, str]) -> bool:
    """Tell whether Streamlit's cookie of who signed in is there, with its signature."""
    from streamlit.web.server.server_util import get_cookie_secret
    from streamlit.web.server.starlette.starlette_app_utils import decode_signed_value
    from streamlit.web.server.starlette.starlette_server_config import USER_COOKIE_NAME

    return decode_signed_value(get_cookie_secret(), USER_COOKIE_NAME, cookies.get(USER_COOKIE_NAME, "")) is not None


def settings_of(environment: Mapping[str, str]) -> dict[str, Any]:
    """Return the door's settings that ``pairing dashboard`` left in the environment; this machine alone without."""
    hosts = environment.get("PAIRING_HOSTS", "localhost,127.0.0.1,::1").split(",")
    signed_in = _signed_in if environment.get("PAIRING_SIGN_IN") else None
    return {"hosts": hosts, "key": environment.get("PAIRING_KEY") or None, "signed_in": signed_in}
