"""One page's WebSocket: frames out, messages in, and everything let go when it is cut."""

import asyncio
import contextlib
import json
from typing import Any

from starlette.websockets import WebSocket, WebSocketDisconnect

from leafwinch_host.page.bench_session import BenchSession
from leafwinch_host.page.keeping import Kept
from leafwinch_host.page.messages import MAX_BYTES, parse
from leafwinch_host.page.orders import carry_out
from leafwinch_host.page.trace_rows import Recording
from leafwinch_wiring.errors import BadInput

FRAME_S = 1.0 / 50.0
"""Time between two frames while anything changes."""

ALIVE_S = 0.25
"""A frame comes at least so often, so that a page knows that the server is there."""

BAD_MAX = 10
"""So many messages that can't be read end the connection."""

RATE_PER_S = 200.0
BURST = 400.0
"""More messages than that end the connection; a held control sends 20 a second."""

POLICY = 1008  # RFC 6455 section 7.4.1
TOO_BIG = 1009


class Allowance:
    """How many messages may still come now: RATE_PER_S, and BURST at once."""

    def __init__(self, now_s: float) -> None:
        self.left = BURST
        self.at_s = now_s

    def takes(self, now_s: float) -> bool:
        """Take one message; tell whether it was allowed."""
        self.left = min(BURST, self.left + (now_s - self.at_s) * RATE_PER_S)
        self.at_s = now_s
        self.left -= 1.0
        return self.left >= 0.0


class Line:
    """The connection of one page.

    Args:
        socket: accepted already.
        bench: what is shown.
    """

    def __init__(self, socket: WebSocket, bench: BenchSession) -> None:
        self.socket = socket
        self.bench = bench
        self.page = bench.join()
        self.sending = asyncio.Lock()
        self.bad = 0

    async def run(self, hello: dict[str, Any]) -> None:
        """Say hello, then serve until the page is gone or is sent away."""
        shows: asyncio.Task[None] | None = None
        try:
            await self._send({"hello": hello})
            shows = asyncio.create_task(self._show())
            code = await self._listen()
            self.bench.gone(self.page)
            if code:
                await self.socket.close(code)
        except (WebSocketDisconnect, RuntimeError, OSError):
            pass  # the page is gone while something is sent to it
        finally:
            self.bench.gone(self.page)
            if shows is not None:
                shows.cancel()
                with contextlib.suppress(asyncio.CancelledError, Exception):
                    await shows

    async def _listen(self) -> int:
        """Take messages; return the code to close with, 0 when the page has closed."""
        loop = asyncio.get_running_loop()
        allowance = Allowance(loop.time())
        while True:
            event = await self.socket.receive()
            if event["type"] == "websocket.disconnect":
                return 0
            if not allowance.takes(loop.time()):
                return POLICY
            text = event.get("text")
            if text is None:
                text = event.get("bytes") or b""
                if len(text) > MAX_BYTES:
                    return TOO_BIG
                text = "\0"  # only text is understood
            if len(text) > MAX_BYTES:
                return TOO_BIG
            if not await self._take(text):
                return POLICY

    async def _take(self, text: str) -> bool:
        """Carry out one message; tell whether the page may go on."""
        try:
            message = parse(text)
        except BadInput as error:
            self.bad += 1
            if self.bad >= BAD_MAX:
                return False
            await self._send({"refused": str(error)})
            return True
        try:
            answer = carry_out(self.bench, self.page, message)
        except BadInput as error:
            await self._send({"refused": str(error), "do": message.do})
            return True
        if isinstance(answer, Recording):
            # Writing takes a while, and frames and other pages must not wait for it.
            text = await asyncio.to_thread(answer.text)
            await self._send({"trace": {"name": answer.name, "text": text}})
        if isinstance(answer, Kept):
            await self._send({"kept": {"name": answer.name, "text": answer.text}})
        return True

    async def _show(self) -> None:
        """Send frames as long as somebody reads them."""
        loop = asyncio.get_running_loop()
        last: tuple[int, str, float] = (-1, "", 0.0)
        sent_s = 0.0
        while True:
            begun_s = loop.time()
            number, frame = self.bench.frame(self.page)
            key = (number, frame["holder"], frame["lag"])
            if key != last or begun_s - sent_s >= ALIVE_S:
                await self._send(frame)
                last, sent_s = key, begun_s
            await asyncio.sleep(max(0.001, FRAME_S - (loop.time() - begun_s)))

    async def _send(self, data: dict[str, Any]) -> None:
        text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
        async with self.sending:
            await self.socket.send_text(text)
