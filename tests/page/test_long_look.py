"""Two minutes in front of the page: its memory stays, and so does the server's.

`python -m tests.page.long_look --minutes 30` does the same for longer, outside the tests.
"""

from dataclasses import replace

from tests.page.long_look import Look, complaint, growths, looks

SECONDS = 120.0
SPEED = 20.0
"""So fast that what is kept for the way back and for the trace is full in the first third."""


def test_two_minutes_of_looking_fill_no_memory() -> None:
    found = list(looks(SECONDS, 5.0, SPEED))
    assert complaint([replace(look, frames=60.0) for look in found]) == "", growths(found)


def test_what_grows_is_noticed() -> None:
    still = [Look(float(n), 5e6, 900.0, 90.0, 2e8, 60.0) for n in range(30)]
    assert complaint(still) == ""
    for name, step in (("heap_bytes", 5e4), ("nodes", 10.0), ("server_bytes", 2e6)):
        grows = [
            replace(look, **{name: getattr(look, name) + n * step}) for n, look in enumerate(still)
        ]
        assert "grew" in complaint(grows)
    assert "29.0 frames" in complaint([replace(look, frames=29.0) for look in still])
