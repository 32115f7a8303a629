"""Symbols of contacts and what operates them, after IEC 60617 (its shapes from memory).

A contact stands upright: its upper pin at the origin, its lower one 10 mm below. The blade
turns about the lower end; it is drawn at rest, so a make contact is open and a break
contact is closed.
"""

from leafwinch_wiring.drawing.pen import Pen
from leafwinch_wiring.format import Contact

UPPER, LOWER, FOOT = 3.4, 6.8, 10.0
"""Where the gap of a contact begins and ends and where its lower pin is, in mm."""

MIDDLE = 5.1
"""Height of the dashed link to what operates a contact, in mm."""

LEVER = -5.5
"""How far left the link reaches, in mm."""


def blade(pen: Pen, x: float, contact: Contact) -> None:
    """Draw a make or break contact with its leads; x is in mm from the origin."""
    pen.line((x, LOWER), (x, FOOT))
    if contact.type == "no":
        pen.line((x, 0.0), (x, UPPER))
        pen.line((x, LOWER), (x - 1.9, UPPER + 0.1))
    else:
        pen.line((x, 0.0), (x, UPPER + 0.3), (x + 1.7, UPPER + 0.3))
        pen.line((x, LOWER), (x + 1.7, UPPER + 0.3), (x + 1.95, UPPER - 0.16))


def pole(pen: Pen, x: float, contact: Contact, kind: str) -> None:
    """Draw a pole of a power device with the mark of its function at the fixed contact.

    `kind` is the kind of the part: a contactor's poles carry a half circle, a breaker's a
    cross, an isolator's a bar; a fuse is a box with its wire.
    """
    if kind == "fuse":
        pen.rect(x - 1.2, 3.3, x + 1.2, 6.7)
        pen.line((x, 0.0), (x, FOOT))
        return
    pen.line((x, LOWER), (x, FOOT))
    pen.line((x, 0.0), (x, UPPER))
    closes = contact.type == "no" or kind in ("isolator", "breaker")
    if closes:
        pen.line((x, LOWER), (x - 1.9, UPPER + 0.1))
    else:
        pen.line((x, UPPER), (x + 1.7, UPPER))
        pen.line((x, LOWER), (x + 1.7, UPPER), (x + 1.9, UPPER - 0.4))
    if kind == "contactor":
        steps = ((0.0, 2.0), (0.55, 2.25), (0.75, 2.7), (0.55, 3.15), (0.0, UPPER))
        pen.line(*((x - dx, y) for dx, y in steps))
    elif kind == "breaker":
        pen.line((x - 0.55, UPPER - 0.55), (x + 0.55, UPPER + 0.55))
        pen.line((x - 0.55, UPPER + 0.55), (x + 0.55, UPPER - 0.55))
    elif kind == "isolator":
        pen.line((x - 0.9, UPPER), (x + 0.9, UPPER))


def link(pen: Pen, contact: Contact, kind: str) -> None:
    """Draw the dashed link from a blade to the left and what works it."""
    start = -0.95 if contact.type == "no" else 1.1
    pen.line((start, MIDDLE), (LEVER, MIDDLE), dash="0.9 0.6")
    end = LEVER
    if contact.direct_opening:
        direct_opening(pen, -3.2)
    if contact.acts == "limit":
        pen.circle(end - 0.8, MIDDLE, 0.8)
    elif kind == "stop_button":
        mushroom(pen, end)
    elif contact.acts == "press":
        pen.line((end + 0.9, 4.1), (end, 4.1), (end, 6.1), (end + 0.9, 6.1))
    elif contact.acts == "turn":
        pen.circle(end - 0.9, MIDDLE, 0.9)
        pen.line((end - 1.8, MIDDLE), (end - 3.2, MIDDLE), (end - 3.2, MIDDLE + 0.8))
    elif contact.acts in ("raise", "lower"):
        pen.line((end + 0.9, 4.1), (end, 4.1), (end, 6.1), (end - 0.9, 6.1))
    elif contact.acts == "plug":
        pen.line((end, 4.3), (end - 1.6, 4.3), (end - 1.6, 5.9), (end, 5.9), (end, 4.3))
    elif contact.acts == "coil":
        pen.rect(end - 1.6, 4.3, end, 5.9)


def direct_opening(pen: Pen, x: float) -> None:
    """Draw the mark of direct opening action: an arrow in a circle (IEC 60947-5-1)."""
    pen.circle(x, MIDDLE, 0.95)
    pen.line((x - 0.6, MIDDLE), (x + 0.6, MIDDLE))
    pen.line((x + 0.2, MIDDLE - 0.35), (x + 0.6, MIDDLE), (x + 0.2, MIDDLE + 0.35))


def mushroom(pen: Pen, x: float) -> None:
    """Draw the head of an emergency stop, with the notch of its latch on the link."""
    dome = ((x, 3.9), (x - 0.9, 4.2), (x - 1.3, MIDDLE), (x - 0.9, 6.0), (x, 6.3), (x, 3.9))
    pen.line(*dome)
    pen.line((x + 0.5, MIDDLE), (x + 0.85, MIDDLE + 0.7), (x + 1.2, MIDDLE))


def mirror(pen: Pen, x: float) -> None:
    """Mark a mirror contact: a circle with a bar through it (IEC 60947-4-1 annex F)."""
    pen.circle(x, MIDDLE, 0.8)
    pen.line((x, MIDDLE - 0.8), (x, MIDDLE + 0.8))
