"""The file by which people sign in to the dashboard: who vouches for them, and what each may do."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path
from typing import Any

from pairing.errors import StoreError, nearest
from pairing.store.rights import ROLES

__all__ = ["checked"]

_NEEDED = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")
_VERIFIES = "provider_verifies_email"
_SECRET_LENGTH = 32
"""Characters of the secret that signs cookies, at least: HS256 wants 256 bits (RFC 7518, section 3.2)."""


def checked(file: str) -> str:
    """Return the whole path of a file of a sign-in.

    Raises
    ------
    StoreError
        When it cannot be read, or names no provider, or gives a role that is none, or the library is missing.
    """
    if importlib.util.find_spec("authlib") is None:
        raise StoreError("signing in needs a library", "pip install 'drink-pairing-bench[sign-in]'")
    try:
        held = tomllib.loads(Path(file).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise StoreError(f"{file} cannot be read: {error}", "write a TOML file with [auth] and [people]") from None
    auth = _table(held, "auth", file)
    if missing := [name for name in _NEEDED if not auth.get(name)]:
        raise StoreError(f"{file} lacks {', '.join(missing)} under [auth]", "your provider says them")
    if not isinstance(auth.get(_VERIFIES, False), bool):
        raise StoreError(f"{file} says {_VERIFIES} = {auth[_VERIFIES]!r}", "write true or false")
    if len(str(auth["cookie_secret"])) < _SECRET_LENGTH:
        raise StoreError(
            f"the cookie_secret in {file} is shorter than {_SECRET_LENGTH} characters",
            "make one: python -c 'import secrets; print(secrets.token_hex())'",
        )
    for person, role in _table(held, "people", file).items():
        if role not in ROLES:
            raise StoreError(f"{file} makes {person} a {role!r}", nearest(str(role), ROLES))
    return str(Path(file).resolve())


def _table(held: dict[str, Any], name: str, file: str) -> dict[str, Any]:
    found = held.get(name)
    if not isinstance(found, dict) or not found:
        raise StoreError(
            f"{file} has no table [{name}]",
            "it names email addresses and their roles" if name == "people" else f"it needs {', '.join(_NEEDED)}",
        )
    return found
