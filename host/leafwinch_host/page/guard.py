"""Lets only a page of this very server in: right host, right origin, right token, plain path.

The server listens on the loopback address only, but any page in the same browser can send
requests there. So a foreign name that resolves to this machine is refused by the Host field
(DNS rebinding), a foreign page by its Origin (RFC 6454; for WebSockets RFC 6455 section 10.2), and
whoever does not know the address that was printed by the random token in it.
"""

import re
import secrets
from collections.abc import Mapping
from urllib.parse import parse_qs

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

OPEN_PREFIX = "/static/"  # the program's own files; nothing in them is secret
_PLAIN_PATH = re.compile(rb"/[A-Za-z0-9._/-]*")
REFUSED = 1008  # RFC 6455 section 7.4.1: policy violation

HEADERS: Mapping[str, str] = {
    "content-security-policy": "default-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}
"""Sent with every answer: no remote assets, no frames, no address with its token passed on."""


class Guard:
    """Refuses every request that does not come from a page of this server.

    Args:
        app: what is guarded.
        port: on which it listens.
        token: random text that the address must carry as `token`.
    """

    def __init__(self, app: ASGIApp, port: int, token: str) -> None:
        self.app = app
        self.token = token.encode()
        names = [f"127.0.0.1:{port}", f"localhost:{port}"]
        if port == 80:
            names += ["127.0.0.1", "localhost"]
        self.hosts = frozenset(name.encode() for name in names)
        self.origins = frozenset(b"http://" + host for host in self.hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        status = self.status(scope)
        if scope["type"] == "websocket":
            if status:
                await receive()  # the request to connect
                await send({"type": "websocket.close", "code": REFUSED, "reason": ""})
                return
            await self.app(scope, receive, send)
            return
        answer: ASGIApp = self.app
        if status:
            answer = PlainTextResponse(_WORDS[status], status)
        await answer(scope, receive, _with_headers(send))

    def status(self, scope: Scope) -> int:
        """Return 0 for a request that may pass, else the status it is refused with."""
        headers: list[tuple[bytes, bytes]] = scope["headers"]
        hosts = [value.lower() for name, value in headers if name == b"host"]
        origins = [value.lower() for name, value in headers if name == b"origin"]
        if len(hosts) != 1 or hosts[0] not in self.hosts:
            return 421
        if len(origins) > 1 or any(origin not in self.origins for origin in origins):
            return 403
        websocket = scope["type"] == "websocket"
        if websocket and not origins:
            return 403
        if not websocket and scope["method"] not in ("GET", "HEAD"):
            return 405
        path = scope.get("raw_path") or scope["path"].encode()
        if not _PLAIN_PATH.fullmatch(path) or b".." in path or b"//" in path:
            return 404
        if not websocket and scope["path"].startswith(OPEN_PREFIX):
            return 0
        return 0 if self.knows_token(scope["query_string"]) else 403

    def knows_token(self, query: bytes) -> bool:
        """Tell whether the part of an address after the question mark carries the token."""
        try:
            found = parse_qs(query.decode("ascii"), max_num_fields=8).get("token", [])
        except ValueError:
            return False
        return len(found) == 1 and secrets.compare_digest(
            found[0].encode("utf-8", "replace"), self.token
        )


_WORDS = {
    403: "Open the address that 'leafwinch bench' printed, with its token.",
    404: "There is nothing here.",
    405: "This server is only read from.",
    421: "This server answers to 127.0.0.1 and localhost only.",
}


def _with_headers(send: Send) -> Send:
    async def send_with(message: Message) -> None:
        if message["type"] == "http.response.start":
            raw = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
            message = {**message, "headers": [*message["headers"], *raw]}
        await send(message)

    return send_with
