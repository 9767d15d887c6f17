"""Where the dashboard listens, by which names it may be asked for, and the key that phones show."""

from __future__ import annotations

import argparse
import secrets
import socket
from dataclasses import dataclass

from pairing.errors import StoreError

__all__ = ["EVERYWHERE", "LOOPBACK", "Reach", "add_reach", "reach"]

LOOPBACK = ("localhost", "127.0.0.1", "::1")
EVERYWHERE = ("0.0.0.0", "::")
_ELSEWHERE = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737): a datagram socket that is connected to it sends nothing, but has chosen the
address by which this machine would go out."""
_KEY_BYTES = 16


@dataclass(frozen=True)
class Reach:
    """Who can reach the dashboard.

    Attributes
    ----------
    address : str
        Where it listens.
    hosts : tuple of str
        By which names and addresses it may be asked for; ``("*",)`` for all.
    url : str
        What to open on this machine, with the key where there is one.
    phones_url : str or None
        What phones in the same network open.
    key : str or None
    """

    address: str
    hosts: tuple[str, ...]
    url: str
    phones_url: str | None = None
    key: str | None = None

    @property
    def here(self) -> str:
        """The name by which this machine itself reaches it."""
        return _here(self.address)


def add_reach(parser: argparse.ArgumentParser) -> None:
    """Declare where it listens, and who may come in."""
    parser.add_argument("--port", type=_port, default=8501, help="port (8501)")
    parser.add_argument("--address", help="address to listen on (localhost: this machine only)")
    about = "let phones in this network in by a code to scan; nobody else gets anything"
    parser.add_argument("--phones", action="store_true", help=about)
    about = "a name by which others ask for this machine, behind a proxy for example; may be given several times"
    parser.add_argument("--host", action="append", default=[], metavar="NAME", help=about)
    about = "let people in who sign in by OpenID Connect; a TOML file with [auth] (provider) and [people] (roles)"
    parser.add_argument("--sign-in", metavar="FILE", help=about)
    about = "let everyone in who reaches the address, to read and to change, without any key"
    parser.add_argument("--open-to-everyone", action="store_true", help=about)
    parser.add_argument("--certificate", metavar="FILE", help="certificate (PEM) to serve by TLS with, https://")
    parser.add_argument("--certificate-key", metavar="FILE", help="its private key (PEM)")


def _port(text: str) -> int:
    if not text.isdecimal() or not 0 < int(text) < 1 << 16:
        raise argparse.ArgumentTypeError(f"{text!r} is no port: a whole number from 1 to 65535")
    return int(text)


def reach(args: argparse.Namespace) -> Reach:
    """Settle who can reach the dashboard.

    Raises
    ------
    StoreError
        When others could reach it and neither a key, a sign-in nor ``--open-to-everyone`` was asked for; when it is
        asked to be both open and closed; when phones have no network to come by.
    """
    if args.phones and args.open_to_everyone:
        raise StoreError("--phones asks for a key, --open-to-everyone for none", "give one of them")
    if bool(args.certificate) != bool(args.certificate_key):
        raise StoreError(
            "a certificate and its private key belong together", "give --certificate and --certificate-key"
        )
    address = args.address or (EVERYWHERE[0] if args.phones else LOOPBACK[0])
    local = address in LOOPBACK
    if not (local or args.phones or args.sign_in or args.open_to_everyone):
        raise StoreError(
            f"whoever reaches {address} could read and change this bench",
            "let phones in by a code with --phones, people by --sign-in, or anybody by --open-to-everyone",
        )
    scheme = "https" if args.certificate else "http"
    url = _url(scheme, _here(address), args.port)
    if args.open_to_everyone and not local:
        return Reach(address, ("*",), url)
    own = local_address() if address in EVERYWHERE else address
    hosts = tuple(dict.fromkeys([*LOOPBACK, *([own] if own else []), socket.gethostname().lower(), *args.host]))
    if not args.phones:
        return Reach(address, hosts, url)
    if own is None:
        raise StoreError("this machine is in no network that phones could share", "join one, or name its --address")
    key = secrets.token_urlsafe(_KEY_BYTES)
    asked = f"/?key={key}"
    named = args.host[0] if args.host else own
    return Reach(address, hosts, url + asked, _url(scheme, named, args.port) + asked, key)


def local_address() -> str | None:
    """Return the address of this machine in the network that it is in, None in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
        except OSError:
            return None
        found = str(probe.getsockname()[0])
    return None if found in (*LOOPBACK, *EVERYWHERE) else found


def _here(address: str) -> str:
    return LOOPBACK[0] if address in EVERYWHERE else address


def _url(scheme: str, host: str, port: int) -> str:
    return f"{scheme}://{f'[{host}]' if ':' in host else host}:{port}"
