"""What a browser does with the server of the page, for its tests."""

import json
import socket
import time
from typing import Any

import httpx
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect

from leafwinch_host.page.app import Server

PATIENCE_S = 20.0


def entering(server: Server, query: str, origin: str | None = "") -> ClientConnection:
    """Open the WebSocket as a page of that origin does; empty for the server's own."""
    own = f"http://127.0.0.1:{server.port}"
    return connect(
        f"ws://127.0.0.1:{server.port}/bench{query}",
        additional_headers={} if origin is None else {"Origin": origin or own},
        max_size=None,
        proxy=None,
    ).__enter__()


class Page:
    """What a browser does with the WebSocket."""

    def __init__(self, server: Server) -> None:
        self.line = entering(server, f"?token={server.token}")
        self.hello: dict[str, Any] = self.next()["hello"]
        self.beats = 0

    def next(self) -> dict[str, Any]:
        """Return the next message of the server."""
        found: dict[str, Any] = json.loads(self.line.recv(timeout=PATIENCE_S))
        return found

    def send(self, **message: Any) -> None:
        self.line.send(json.dumps(message))

    def frame(self) -> dict[str, Any]:
        """Return a frame that was made after now."""
        until_s = time.monotonic() + 0.06
        while True:
            found = self.next()
            if "t_ms" in found and time.monotonic() >= until_s:
                return found

    def answer(self, name: str) -> Any:
        """Return the next answer of that name, frames left out."""
        while True:
            found = self.next()
            if name in found:
                return found[name]

    def hold(self, way: str, seconds: float) -> None:
        """Hold the control with a beat every 50 ms, reading frames meanwhile.

        Where a busy machine let the lease run out, the control is pressed anew.
        """
        now_s = pressed_s = time.monotonic()
        until_s = now_s + seconds
        while now_s < until_s:
            self.send(do="hold", way=way, beat=self.beats)
            self.beats += 1
            beat_s = time.monotonic() + 0.04
            while now_s < beat_s:
                frame = self.next()
                now_s = time.monotonic()
            if frame.get("asked") == 0 and now_s - pressed_s > 0.5:
                self.send(do="release")
                pressed_s, until_s = now_s, now_s + seconds

    def wait(self, name: str, value: Any) -> dict[str, Any]:
        """Wait for a frame that shows this."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            frame = self.next()
            if frame.get(name) == value:
                return frame
        raise AssertionError(f"{name} did not become {value!r}")

    def code(self) -> int:
        """Read on until the server closes; return its code."""
        try:
            while True:
                self.line.recv(timeout=PATIENCE_S)
        except ConnectionClosed as closed:
            return closed.rcvd.code if closed.rcvd is not None else 0

    def cut(self) -> None:
        """Cut the line without a goodbye."""
        self.line.socket.shutdown(socket.SHUT_RDWR)


def get(server: Server, path: str, **headers: str) -> httpx.Response:
    """Ask for a path exactly as it is written."""
    with httpx.Client(trust_env=False) as client:
        return client.get(f"http://127.0.0.1:{server.port}{path}", headers=headers)


def raw(server: Server, request: str) -> str:
    """Return the status line for a request sent byte for byte."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=PATIENCE_S) as line:
        line.sendall(request.encode("latin-1"))
        return line.recv(4096).split(b"\r\n")[0].decode("latin-1")
