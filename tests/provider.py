"""A provider of OpenID Connect for tests: it asks nobody, and vouches for whoever it was told to.

The endpoints are those of OpenID Connect Core 1.0, section 3.1 (code flow), and Discovery 1.0, section 4.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlencode

from browsing import free_port

CLIENT, SECRET = "bench", "told-to-nobody"
ISSUED, EXPIRES = 1_700_000_000, 4_000_000_000
"""Seconds since 1970 between which what is signed holds: in 2023 and in 2096."""


class Provider:
    """A provider that signs in ``claims``."""

    def __init__(self, url: str) -> None:
        from joserfc.jwk import RSAKey

        self.url, self.key = url, RSAKey.generate_key(2048, {"kid": "one", "use": "sig", "alg": "RS256"})
        self.claims: dict[str, Any] = {}
        self.asked: dict[str, dict[str, str]] = {}

    @property
    def metadata(self) -> dict[str, Any]:
        return {
            "issuer": self.url,
            "authorization_endpoint": f"{self.url}/authorize",
            "token_endpoint": f"{self.url}/token",
            "jwks_uri": f"{self.url}/keys",
            "response_types_supported": ["code"],
            "subject_types_supported": ["public"],
            "id_token_signing_alg_values_supported": ["RS256"],
        }

    def app(self) -> Any:
        from joserfc import jwt
        from starlette.applications import Starlette
        from starlette.responses import JSONResponse, RedirectResponse
        from starlette.routing import Route

        async def metadata(request: Any) -> Any:
            return JSONResponse(self.metadata)

        async def keys(request: Any) -> Any:
            return JSONResponse({"keys": [self.key.as_dict(private=False)]})

        async def authorize(request: Any) -> Any:
            asked = dict(request.query_params)
            code = f"code-{len(self.asked)}"
            self.asked[code] = asked
            return RedirectResponse(f"{asked['redirect_uri']}?{urlencode({'code': code, 'state': asked['state']})}")

        async def token(request: Any) -> Any:
            form = await request.form()
            asked = self.asked.pop(form["code"])
            claims = {"iss": self.url, "aud": asked["client_id"], "iat": ISSUED, "exp": EXPIRES, "sub": "7"}
            claims |= {"nonce": asked["nonce"]} if "nonce" in asked else {}
            signed = jwt.encode({"alg": "RS256", "kid": "one"}, claims | self.claims, self.key)
            return JSONResponse({"access_token": "a", "token_type": "Bearer", "id_token": signed, "expires_in": 600})

        return Starlette(
            routes=[
                Route("/.well-known/openid-configuration", metadata),
                Route("/keys", keys),
                Route("/authorize", authorize),
                Route("/token", token, methods=["POST"]),
            ]
        )


@contextmanager
def providing() -> Iterator[Provider]:
    """Run a provider on this machine."""
    import uvicorn

    port = free_port()
    provider = Provider(f"http://127.0.0.1:{port}")
    server = uvicorn.Server(uvicorn.Config(provider.app(), port=port, log_level="critical"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started and thread.is_alive():
        time.sleep(0.02)
    try:
        yield provider
    finally:
        server.should_exit = True
        thread.join()
