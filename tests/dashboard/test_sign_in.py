"""People of a team sign in by OpenID Connect: what they log is theirs, and each may what the role allows."""

from __future__ import annotations

import sys
from types import SimpleNamespace
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest
from browsing import SERVED, Visit, free_port, serving, tap
from provider import CLIENT, SECRET, providing

from pairing import Bench
from pairing.cli.sign_in import checked
from pairing.errors import StoreError

pytest.importorskip("authlib")

from pairing_dashboard import people

FILE = """
[auth]
redirect_uri = "http://127.0.0.1:{port}/oauth2callback"
cookie_secret = "{cookie}"
client_id = "{client}"
client_secret = "{secret}"
server_metadata_url = "{provider}/.well-known/openid-configuration"

[people]
"cox@rowers.example" = "taster"
"Coach@rowers.example" = "owner"
"""


def write(path, port=8501, provider="https://id.example", cookie="c" * 32):
    path.write_text(FILE.format(port=port, provider=provider, cookie=cookie, client=CLIENT, secret=SECRET))
    return path


@pytest.fixture(scope="module")
def provider():
    with providing() as found:
        yield found


@pytest.fixture
def visit(browser, bench_at, provider, tmp_path, monkeypatch):
    """Return a function that signs a person in, in a window of their own."""
    bench, port = bench_at("one"), free_port()
    file = write(tmp_path / "sign-in.toml", port, provider.url)
    monkeypatch.setenv("PAIRING_SIGN_IN", checked(str(file)))
    start = [sys.executable, "-m", "streamlit", "run", str(SERVED), "--secrets.files", str(file), "--server.port"]
    visits = []

    def come(email, **claims):
        provider.claims = {"email": email, "email_verified": True, **claims}
        visits.append(window := Visit(browser, url))
        page = window.open()
        window.act(page.get_by_role("button", name="Sign in").click)
        return window, page, bench

    with serving(bench, tmp_path / "log", command=start, port=port) as url:
        yield come
        for window in visits:
            window.close()


@pytest.mark.browser
def test_who_is_signed_in_tastes_in_the_role_of_the_file(visit):
    window, page, bench = visit("Cox@rowers.example")
    licence = f"{window.url}/app/static/figtree-OFL.txt"
    assert page.request.get(licence).status == 200
    with pytest.raises(HTTPError, match="403"):
        urlopen(licence, timeout=5)
    page.get_by_role("heading", name="Next cups").wait_for()
    window.open("more")
    page.get_by_text("Signed in as cox@rowers.example, taster.").wait_for()
    tap(window, page.get_by_role("button", name="Sign out"))
    page.get_by_role("button", name="Sign in").wait_for()
    assert Bench.open(bench).revision == 1


@pytest.mark.browser
@pytest.mark.parametrize(
    ("email", "claims"),
    [("stranger@elsewhere.example", {}), ("cox@rowers.example", {"email_verified": False}), ("", {})],
)
def test_a_stranger_sees_nothing_of_the_bench(visit, email, claims):
    _, page, _ = visit(email, **claims)
    page.get_by_text("is not among the people of this bench").wait_for()
    assert page.get_by_text("Oat drink").count() == 0
    assert page.get_by_text("Next cups").count() == 0


@pytest.mark.parametrize(
    ("claims", "auth", "believed"),
    [
        ({"email_verified": True}, {}, True),
        ({"email_verified": False}, {"provider_verifies_email": True}, False),
        ({"email_verified": "false"}, {}, False),
        ({}, {}, False),
        ({}, {"provider_verifies_email": True}, True),
    ],
)
def test_an_address_is_believed_only_where_the_provider_verified_it(monkeypatch, claims, auth, believed):
    told = SimpleNamespace(
        user={"email": "Cox@rowers.example", **claims}, secrets={"auth": auth, "people": {"*": "guest"}}
    )
    monkeypatch.setattr(people, "st", told)
    monkeypatch.setenv("PAIRING_SIGN_IN", "people.toml")
    assert people.who() == (("cox@rowers.example", "guest") if believed else ("", "guest"))
    assert (people._role() is not None) == believed


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("[people]", "[peple]"), ["[people]", "email addresses"]),
        (('"taster"', '"tastr"'), ["tastr", "taster"]),
        (("client_secret", "secret"), ["lacks client_secret"]),
        (("c" * 32, "short"), ["32 characters", "token_hex"]),
        (("[auth]", "[auth"), ["cannot be read"]),
        (("[people]", "provider_verifies_email = 'yes'\n[people]"), ["'yes'", "true or false"]),
    ],
)
def test_a_file_that_would_let_nobody_or_anybody_in_is_refused(tmp_path, change, words):
    file = write(tmp_path / "sign-in.toml")
    file.write_text(file.read_text().replace(*change))
    with pytest.raises(StoreError) as error:
        checked(str(file))
    assert all(word in f"{error.value} {error.value.hint}" for word in words), error.value
