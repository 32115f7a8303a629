"""The server of the page: on this machine only, nothing from elsewhere, one bench for all pages.

Addresses: `/` the page, `/static/NAME` its own files, `/drawing/circuit.svg?sheet=N` the circuit
drawings, `/trace.csv` the rows of the run, `/bench` the WebSocket. All but the page's files need
the token of the printed address.
"""

import asyncio
import os
import re
import secrets
import socket
import threading
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp
from starlette.websockets import WebSocket

from leafwinch_host.page.bench_session import BenchSession
from leafwinch_host.page.guard import Guard
from leafwinch_host.page.line import Line
from leafwinch_host.page.messages import MAX_BYTES
from leafwinch_host.page.play import Opening
from leafwinch_host.page.trace_rows import recording_of
from leafwinch_host.page.view import page_html
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.drawing import Sheet, circuit_sheets, circuit_titles
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

LOOPBACK = "127.0.0.1"
PAGES_MAX = 8
CONNECTIONS_MAX = 64
START_S = 20.0
BUSY = 1013  # code of a WebSocket that is refused for now (IANA's list of close codes)

STATIC = Path(__file__).with_name("static")
KINDS = {
    "js": "text/javascript",
    "css": "text/css",
    "svg": "image/svg+xml",
    "png": "image/png",
    "woff2": "font/woff2",
}
_FILE_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,40}\.([a-z0-9]{2,5})")


class Drawings:
    """The circuit drawings of a netlist, drawn when they are first asked for."""

    def __init__(self, net: Netlist) -> None:
        self.net = net
        self._lock = threading.Lock()
        self._sheets: list[Sheet] | None = None

    def sheets(self) -> list[Sheet]:
        """Return all sheets; none where the circuit is too crowded to be drawn."""
        with self._lock:
            if self._sheets is None:
                try:
                    self._sheets = circuit_sheets(self.net)
                except BadInput:
                    self._sheets = []
            return self._sheets


def make_app(bench: BenchSession, port: int, token: str) -> ASGIApp:
    """Return the guarded application.

    Args:
        bench: what is shown; its worker is started by whoever owns it.
        port: on which the server listens, part of every allowed host.
        token: that the address must carry.
    """
    drawings = Drawings(bench.net)
    pages: set[Line] = set()

    def page(_request: Request) -> Response:
        return Response(page_html(), media_type="text/html")

    def static(request: Request) -> Response:
        name: str = request.path_params["name"]
        found = _FILE_NAME.fullmatch(name)
        path = STATIC / name
        if found is None or found[1] not in KINDS or not path.is_file():
            return _nothing()
        return Response(path.read_bytes(), media_type=KINDS[found[1]])

    def circuit(request: Request) -> Response:
        sheets = drawings.sheets()
        sheet = request.query_params.get("sheet", "1")
        number = int(sheet) if sheet.isascii() and sheet.isdigit() and len(sheet) <= 3 else 0
        if not 1 <= number <= len(sheets):
            return _nothing()
        return Response(sheets[number - 1].svg, media_type="image/svg+xml")

    def trace(_request: Request) -> Response:
        with bench.lock:
            recording = recording_of(bench.play)
        headers = {"content-disposition": f'attachment; filename="{recording.name}"'}
        return Response(recording.text(), media_type="text/csv", headers=headers)

    async def line(socket_: WebSocket) -> None:
        if len(pages) >= PAGES_MAX:
            await socket_.close(BUSY)
            return
        await socket_.accept()
        mine = Line(socket_, bench)
        pages.add(mine)
        try:
            hello: dict[str, Any] = await asyncio.to_thread(bench.hello)
            titles = circuit_titles(bench.net)
            hello["sheets"] = [{"number": n, "title": title} for n, title in enumerate(titles, 1)]
            await mine.run(hello)
        finally:
            pages.discard(mine)
            bench.gone(mine.page)

    app = Starlette(
        routes=[
            Route("/", page),
            Route("/static/{name}", static),
            Route("/drawing/circuit.svg", circuit),
            Route("/trace.csv", trace),
            WebSocketRoute("/bench", line),
        ]
    )
    return Guard(app, port, token)


def _nothing() -> Response:
    return Response("There is nothing here.", 404, media_type="text/plain")


class Server:
    """Bench and server together, in the background; use it as a context manager.

    Args:
        site: what is installed.
        net: how it is wired.
        seed: of bounce, skew and noise.
        port: on which to listen, 0 for a free one.
        opening: script or scenario that is played first.

    `url` is the address to open, with its token.

    Raises:
        BadInput: the port is taken.
    """

    def __init__(
        self,
        site: Site,
        net: Netlist,
        seed: int = 1,
        port: int = 0,
        opening: Opening | None = None,
    ) -> None:
        self.bench = BenchSession(site, net, seed, opening)
        self.socket = listening(port)
        self.port: int = self.socket.getsockname()[1]
        self.token = secrets.token_urlsafe(24)
        self.url = f"http://{LOOPBACK}:{self.port}/?token={self.token}"
        config = uvicorn.Config(
            make_app(self.bench, self.port, self.token),
            log_config=None,
            log_level="critical",
            access_log=False,
            lifespan="off",
            ws="websockets-sansio",
            ws_max_size=MAX_BYTES,
            ws_ping_interval=5.0,
            ws_ping_timeout=10.0,
            limit_concurrency=CONNECTIONS_MAX,
            server_header=False,
            proxy_headers=False,
            timeout_graceful_shutdown=1,
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self._run, name="page", daemon=True)

    def _run(self) -> None:
        self.server.run(sockets=[self.socket])

    def __enter__(self) -> Self:
        self.bench.__enter__()
        self.thread.start()
        until_s = time.monotonic() + START_S
        while not self.server.started:
            if not self.thread.is_alive() or time.monotonic() > until_s:
                self.__exit__(None, None, None)
                raise BadInput("The server of the page does not start.")
            time.sleep(0.01)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.server.should_exit = True
        self.thread.join(START_S)
        self.socket.close()
        self.bench.__exit__(kind, error, trace)


def listening(port: int) -> socket.socket:
    """Return a socket bound to the loopback address; raise BadInput where the port is taken."""
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":  # elsewhere it would let another program listen as well
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((LOOPBACK, port))
    except OSError as error:
        found.close()
        raise BadInput(f"Port {port} can't be used on this machine ({error.strerror}).") from None
    return found


def serve(
    site: Site,
    net: Netlist,
    seed: int = 1,
    port: int = 0,
    open_browser: bool = True,
    opening: Opening | None = None,
    tell: Callable[[str], None] = print,
) -> None:
    """Serve the page until interrupted from the keyboard.

    Args:
        site: what is installed.
        net: how it is wired.
        seed: of bounce, skew and noise.
        port: on which to listen, 0 for a free one.
        open_browser: whether to open the address in the browser.
        opening: script or scenario that is played first.
        tell: called with the address.

    Raises:
        BadInput: the port is taken.
    """
    with Server(site, net, seed, port, opening) as server:
        tell(server.url)
        if open_browser:
            # Some browsers are only started as the call returns, others run inside it.
            threading.Thread(target=webbrowser.open, args=(server.url,), daemon=True).start()
        while server.thread.is_alive():
            server.thread.join(0.5)
