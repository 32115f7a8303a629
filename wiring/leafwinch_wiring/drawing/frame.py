"""The frame of a sheet: its border, the numbers of its paths and the title block."""

from leafwinch_wiring.drawing.canvas import THICK, Canvas, number
from leafwinch_wiring.drawing.plan import COLUMNS, FRAME, HEAD_MM, TITLE_MM, Plan, mm
from leafwinch_wiring.drawing.texts import SIZE_MM, Label, text_width
from leafwinch_wiring.netlist import Netlist

CAUTION = "Mains work by a licensed electrician; local code first. Not certified."
DANGER = (
    "Moving leaves crush and shear; a folded deck can fall, over water people drown. Isolate, lock"
    " off, prove dead."
)
BARE = "No controller: drawn to show its weaknesses, not as a way to build. "
"""What the sheets of a netlist without a controller say first."""


def frame(canvas: Canvas, net: Netlist, plan: Plan, sheet: int, sheets: int) -> None:
    """Draw border, path numbers and title block on a finished sheet."""
    left, top, right, low = FRAME
    canvas.rect(FRAME, width=THICK)
    canvas.line((left, HEAD_MM), (right, HEAD_MM))
    for index, wall in enumerate(plan.walls):
        end = plan.walls[index + 1] if index + 1 < len(plan.walls) else float(COLUMNS)
        x0 = left if index == 0 else mm(wall, 0)[0]
        x1 = right if index + 1 == len(plan.walls) else mm(end, 0)[0]
        if index:
            canvas.line((x0, top), (x0, HEAD_MM))
        data = (("data-path", str(index + 1)), ("data-x0", number(x0)), ("data-x1", number(x1)))
        middle = (top + HEAD_MM) / 2.0 + 0.26 * SIZE_MM
        canvas.text(Label((x0 + x1) / 2.0, middle, str(index + 1), "middle", data=data))
    canvas.line((left, TITLE_MM), (right, TITLE_MM))
    canvas.line((left, TITLE_MM + 4.3), (right, TITLE_MM + 4.3))
    canvas.text(Label(left + 2.0, TITLE_MM + 3.1, DANGER if net.has_controller else BARE + DANGER))
    canvas.text(Label(left + 2.0, TITLE_MM + 7.6, net.title, bold=True, size=3.0))
    canvas.text(Label(left + 2.0, TITLE_MM + 11.6, CAUTION, bold=True))
    split = left + 150.0
    canvas.line((split, TITLE_MM + 4.3), (split, low))
    canvas.text(Label(split + 2.0, TITLE_MM + 7.6, plan.title, bold=True, size=3.0))
    canvas.text(Label(split + 2.0, TITLE_MM + 11.6, f"netlist {net.name}"))
    canvas.text(
        Label(
            split + 6.0 + text_width(f"netlist {net.name}"),
            TITLE_MM + 11.6,
            f"hash {net.content_hash[:12]}",
        )
    )
    text = f"sheet {sheet} of {sheets}"
    canvas.text(Label(right - 2.0, TITLE_MM + 7.6, text, "end", bold=True, size=3.0))
    canvas.text(Label(right - 2.0, TITLE_MM + 11.6, "unoperated, no power", "end"))
