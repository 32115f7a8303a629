"""What the continuity sheet and the walk over the inputs find of all single miswires."""

from leafwinch_wiring.input_walk import WalkShare
from leafwinch_wiring.point_sheet import PointSheet

WALK_ONLY = "; but the walk over the inputs shows it"


def percent(part: int, whole: int) -> str:
    """A share in per cent that never rounds up to all of them, nor down to none."""
    if part == whole:
        return "all"
    if part == 0:
        return "none"
    return f"{min(99.99, max(0.01, 100.0 * part / whole)):.2f} %"


def share_rows(shares: WalkShare, walked: bool) -> list[list[str]]:
    """Rows of how many miswires which of the two finds: words, number, share of all.

    Args:
        shares: what `input_walk.share` returned.
        walked: false for a wiring without a board, which has no walk.
    """
    both, sheet, walk = len(shares.both), len(shares.sheet_alone), len(shares.walk_alone)
    rows = [("the continuity sheet", both + sheet)]
    if walked:
        rows += [
            ("the walk over the inputs", both + walk),
            ("both of them", both),
            ("the sheet alone", sheet),
            ("the walk alone", walk),
        ]
    rows.append(("neither" if walked else "nothing", len(shares.neither)))
    return [[words, str(count), percent(count, shares.total)] for words, count in rows]


def not_found_rows(points: PointSheet, shares: WalkShare) -> list[list[str]]:
    """Rows of the miswires that the sheet does not find: what it is, and why not."""
    walked = {item.id for item in shares.walk_alone}
    return [
        [item.words, why + (WALK_ONLY if item.id in walked else "")]
        for item, why in points.not_found
    ]
