"""Hours of a moving deck through the recorder's stream: no line may be lost.

`python -m tests.host.long_recording` plays 8 hours at 100 lines a second, 2,880,000 lines.
"""

import sys
import time

from leafwinch_host.recording.stream import Stream, Tally
from tests.host.trace_lines import trace_line

RATE = 100
PIECES = (1, 63, 64, 65, 4096, 777, 100_000)  # bytes that come at once, in turn
BLOCK = 8192  # lines made at once
BEGUN_MS = (1 << 30) - 60_000  # the board's clock wraps within the first minute or so


def play(hours: float) -> tuple[int, Tally, int]:
    """Feed so many hours in pieces of odd lengths; return lines sent, the tally, and lines kept."""
    total = round(hours * 3600 * RATE)
    stream = Stream()
    kept = sent = place = 0
    rest = b""
    while sent < total:
        count = min(BLOCK, total - sent)
        numbers = range(sent, sent + count)
        rest += b"".join(trace_line(n, BEGUN_MS + n * 1000 // RATE) for n in numbers)
        sent += count
        at = 0
        while len(rest) - at > max(PIECES):
            size = PIECES[place % len(PIECES)]
            place += 1
            kept += len(stream.feed(rest[at : at + size]))
            at += size
        rest = rest[at:]
    kept += len(stream.feed(rest))
    return sent, stream.tally, kept


def main() -> int:
    """Play 8 hours; return 0 if every line was kept."""
    begun = time.perf_counter()
    sent, tally, kept = play(8.0)
    spent = time.perf_counter() - begun
    print(
        f"{sent} lines sent, {kept} kept, {tally.missing} missing, {tally.bad} bad, {spent:.0f} s"
    )
    whole = kept == tally.samples == sent and not (tally.missing or tally.bad or tally.restarts)
    return 0 if whole else 1


if __name__ == "__main__":
    sys.exit(main())
