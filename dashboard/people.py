"""Who sits before the dashboard where people sign in, and in which role."""

from __future__ import annotations

import os
from html import escape

import streamlit as st

from pairing.store.rights import OWNER, ROLES
from pairing_dashboard.wording import md

__all__ = ["leave", "let_in", "who"]

EVERYBODY_ELSE = "*"
VERIFIES = "provider_verifies_email"
"""In ``[auth]``: the provider verifies every address, although it does not say so."""
_AUTHOR = "me"


def let_in() -> None:
    """Ask whoever is not signed in to do so, and stop the page there; nothing where nobody has to."""
    if not _asks():
        return
    if not st.user.is_logged_in:
        st.title("Flavour bench", anchor=False)
        st.write("This bench is for the people who keep it together. What you log goes under your name.")
        st.button("Sign in", type="primary", icon=":material/login:", on_click=st.login)
        st.stop()
    if _role() is None:
        st.title("Flavour bench", anchor=False)
        st.warning(f"{md(_address() or 'This account')} is not among the people of this bench. Ask who keeps it.")
        _sign_out()
        st.stop()


def leave() -> None:
    """Say who is signed in, and offer to sign out; nothing where nobody has to."""
    if _asks():
        author, role = who()
        st.html(f"<p>Signed in as {escape(author)}, {role}.</p>")
        _sign_out()


def who() -> tuple[str, str]:
    """Return whose name what is written goes under, and in which role.

    Examples
    --------
    >>> who()
    ('me', 'owner')
    """
    return (_address(), _role() or "guest") if _asks() else (_AUTHOR, OWNER)


def _sign_out() -> None:
    st.button("Sign out", icon=":material/logout:", on_click=st.logout)


def _asks() -> bool:
    return bool(os.environ.get("PAIRING_SIGN_IN"))


def _address() -> str:
    """Return the email address that the provider vouches for; empty where it vouches for none.

    One that does not say whether it verified the address vouches for it only where the file of the sign-in says so.
    """
    verified = st.user.get("email_verified", st.secrets["auth"].get(VERIFIES, False))
    return str(st.user.get("email") or "").lower() if verified is True else ""


def _role() -> str | None:
    """Return the role that the file of the sign-in gives this person, None where it gives none or one that is none."""
    people = {str(name).lower(): role for name, role in st.secrets.get("people", {}).items()}
    found = people.get(_address(), people.get(EVERYBODY_ELSE)) if _address() else None
    return found if found in ROLES else None
