"""Who comes in: nobody by a foreign name, no page of elsewhere, and with a key nobody without it."""

from __future__ import annotations

import asyncio
import http.client
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import urlsplit

import pytest
from browsing import free_port, serving

pytest.importorskip("streamlit")

from pairing_dashboard.door import Door, settings_of

HOME = {"host": "127.0.0.1:8501"}
KEY = "jX3-quince"


class Served:
    """An application that says what it was asked, and opens its pages to everybody as Streamlit does."""

    def __init__(self):
        self.seen = []

    async def __call__(self, scope, receive, send):
        self.seen.append(scope["path"])
        if scope["type"] == "websocket":
            return await send({"type": "websocket.accept"})
        open_to_all = [(b"access-control-allow-origin", b"*")]
        await send({"type": "http.response.start", "status": 200, "headers": open_to_all})
        await send({"type": "http.response.body", "body": b"the shelf"})


def ask(door, path="/", headers=HOME, *, kind="http", method="GET", query="", scheme="http"):
    """Return status and headers of the answer, or what became of a WebSocket."""
    sent = []

    async def send(message):
        sent.append(message)

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    scope = {
        "type": kind,
        "path": path,
        "raw_path": path.encode(),
        "scheme": scheme,
        "query_string": query.encode(),
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        "server": ("127.0.0.1", 8501),
    } | ({"method": method} if kind == "http" else {})
    with ThreadPoolExecutor(1) as apart:  # a browser of other tests keeps a loop in this thread
        apart.submit(asyncio.run, door(scope, receive, send)).result()
    if kind == "websocket":
        return sent[0]["type"]
    return sent[0]["status"], {name.decode(): value.decode() for name, value in sent[0]["headers"]}


@pytest.fixture
def door():
    return Door(Served(), **settings_of({}))


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8501", "", "127.0.0.1.evil.example", "[", "localhost@evil"]
)
@pytest.mark.parametrize("path", ["/", "/app/static/icon.png", "/_stcore/health", "/_stcore/upload_file/1"])
def test_a_name_that_is_not_ours_gets_nothing(door, host, path):
    status, _ = ask(door, path, {"host": host})
    assert status == 403
    assert (
        ask(door, "/_stcore/stream", {"host": host, "origin": f"http://{host}"}, kind="websocket") == "websocket.close"
    )
    assert door.app.seen == []


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:9", "127.0.0.1:8501", "[::1]:8501", "localhost."])
def test_this_machine_is_let_in_under_each_of_its_names(door, host):
    assert ask(door, headers={"host": host})[0] == 200


@pytest.mark.parametrize("origin", [None, "http://localhost:8502", "http://127.0.0.1", "null", "https://evil.example"])
def test_a_page_of_another_address_can_neither_talk_nor_change(door, origin):
    headers = HOME | ({} if origin is None else {"origin": origin})
    assert ask(door, "/_stcore/stream", headers, kind="websocket") == "websocket.close"
    assert ask(door, "/_stcore/upload_file/1", headers, method="PUT")[0] == 403
    assert door.app.seen == []


def test_our_own_page_talks_and_changes(door):
    headers = HOME | {"origin": "http://127.0.0.1:8501"}
    assert ask(door, "/_stcore/stream", headers, kind="websocket") == "websocket.accept"
    assert ask(door, "/_stcore/upload_file/1", headers, method="PUT")[0] == 200


def test_nobody_frames_sniffs_or_reads_across_origins(door):
    _, headers = ask(door)
    assert headers["x-frame-options"] == "DENY"
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize("path", ["/", "/app/static/icon.png", "/_stcore/health", "/media/1.png"])
@pytest.mark.parametrize("query", ["", "key=", "key=wrong", "key=jX3-quincE", "other=jX3-quince"])
def test_without_the_key_nothing_is_served_not_even_the_font(path, query):
    locked = Door(Served(), hosts=["127.0.0.1"], key=KEY)
    assert ask(locked, path, query=query)[0] == 403
    forged = HOME | {"cookie": f"flavour-bench-key={KEY}", "origin": "http://127.0.0.1:8501"}
    assert ask(locked, path, forged)[0] == 403, "the key itself is no cookie"
    assert ask(locked, "/_stcore/stream", forged, kind="websocket", query=f"key={KEY}") == "websocket.close"
    assert locked.app.seen == []


@pytest.mark.parametrize("scheme", ["http", "https"])
def test_the_key_is_exchanged_for_a_cookie_and_leaves_the_address(scheme):
    locked = Door(Served(), hosts=["127.0.0.1"], key=KEY)
    status, headers = ask(locked, "/bench", query=f"cup=7&key={KEY}", scheme=scheme)
    assert (status, headers["location"]) == (303, "/bench?cup=7")
    cookie, *flags = headers["set-cookie"].split("; ")
    assert KEY not in cookie
    assert {"HttpOnly", "SameSite=lax"} <= set(flags)
    assert ("Secure" in flags) == (scheme == "https")
    held = HOME | {"cookie": cookie, "origin": "http://127.0.0.1:8501"}
    assert ask(locked, headers=held)[0] == 200
    assert ask(locked, "/_stcore/stream", held, kind="websocket") == "websocket.accept"


LOGIN = [
    "/",
    "/bench",
    "/static/js/index.js",
    "/_stcore/health",
    "/_stcore/host-config",
    "/auth/login",
    "/oauth2callback",
]
BEYOND = [
    "/app/static/icon.png",
    "/media/1.png",
    "/component/map/index.html",
    "/_stcore/bidi-components/map",
    "/x/media/1",
]


def test_before_anybody_signs_in_the_page_to_sign_in_is_served_and_nothing_else():
    kept = Door(Served(), hosts=["127.0.0.1"], signed_in=lambda cookies: cookies.get("who") == "cox")
    home = HOME | {"origin": "http://127.0.0.1:8501"}
    assert [ask(kept, path)[0] for path in [*LOGIN, "/app/static/figtree-latin-wght-normal.woff2"]] == [200] * 8
    assert ask(kept, "/_stcore/stream", home, kind="websocket") == "websocket.accept"
    served = len(kept.app.seen)
    assert [ask(kept, path, HOME | {"cookie": "who=me"})[0] for path in BEYOND] == [403] * len(BEYOND)
    assert ask(kept, "/_stcore/upload_file/1/2", home, method="PUT")[0] == 403
    assert len(kept.app.seen) == served
    assert [ask(kept, path, HOME | {"cookie": "who=cox"})[0] for path in BEYOND] == [200] * len(BEYOND)


def test_a_cookie_of_who_signed_in_counts_only_with_its_signature(monkeypatch):
    from streamlit.web.server import server_util
    from streamlit.web.server.starlette.starlette_app_utils import create_signed_value

    monkeypatch.setattr(server_util, "get_cookie_secret", lambda: "s" * 32)
    signed_in = settings_of({"PAIRING_SIGN_IN": "people.toml"})["signed_in"]
    right, forged = (create_signed_value(secret * 32, "_streamlit_user", "{}").decode() for secret in "sx")
    assert signed_in({"_streamlit_user": right})
    assert not any(map(signed_in, [{}, {"_streamlit_user": forged}, {"_streamlit_user": "{}"}, {"other": right}]))
    assert settings_of({})["signed_in"] is None


@pytest.mark.parametrize("path", ["//evil.example", "/\\evil.example", "///evil.example/x"])
def test_the_exchange_leads_nowhere_else(path):
    locked = Door(Served(), hosts=["127.0.0.1"], key=KEY)
    location = ask(locked, path, query=f"key={KEY}")[1]["location"]
    assert urlsplit(location).netloc == ""
    assert not location.startswith(("//", "/\\"))


def test_the_dashboard_itself_stands_behind_the_door(tmp_path):
    with serving(tmp_path / "none", tmp_path / "log") as url:
        port = int(url.rpartition(":")[2])
        for host, expected in ((f"127.0.0.1:{port}", 200), ("evil.example", 403)):
            for path in ("/", "/app/static/icon.png", "/_stcore/health"):
                line = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
                line.request("GET", path, headers={"Host": host})
                assert line.getresponse().status == expected, (host, path)
                line.close()
        for origin, expected in ((url, 101), (f"http://127.0.0.1:{free_port()}", 403)):
            line = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
            upgrade = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13"}
            upgrade |= {"Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Origin": origin}  # the key of RFC 6455, 1.3
            line.request("GET", "/_stcore/stream", headers=upgrade)
            assert line.getresponse().status == expected, origin
            line.close()
