"""What can come of one defect at one moment: its words, its colour and its symbol.

Each verdict has a shape of its own as well as a colour, so that the matrix can be read
without colour, on paper and by every kind of eye.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Verdict:
    """How one verdict is shown.

    Attributes:
        name: the word the campaign uses.
        label: short words for the legend.
        meaning: one sentence.
        shape: SVG drawing inside a box from 0 to 10 in both directions.
        rank: the higher, the worse; where several runs share a cell the worst is shown.
    """

    name: str
    label: str
    meaning: str
    shape: str
    rank: int


VERDICTS = (
    Verdict(
        "unaffected",
        "no sign here",
        "Every requirement holds, and the defect gave no sign in this run.",
        '<circle cx="5" cy="5" r="1.4"/>',
        0,
    ),
    Verdict(
        "found",
        "stopped and found",
        "The drive stopped or stayed at rest, and the defect was found: every requirement holds.",
        '<rect x="1.2" y="1.2" width="7.6" height="7.6" rx="1.2"/>',
        1,
    ),
    Verdict(
        "latent",
        "latent",
        "Nothing moved wrongly, and only its proof test finds the defect.",
        '<path d="M5 .8 9.2 5 5 9.2 .8 5Z" fill="none" stroke-width="1.5"/>',
        2,
    ),
    Verdict(
        "unpreventable",
        "gravity",
        "The deck moves by gravity or wind with everything off: no control can prevent it.",
        '<path d="M.8 1.4H9.2L5 9Z"/>',
        3,
    ),
    Verdict(
        "undetected",
        "not found",
        "Nothing moved wrongly, but neither a demand nor a proof test found the defect.",
        '<circle cx="5" cy="5" r="3.5" fill="none" stroke-width="2"/>',
        4,
    ),
    Verdict(
        "broken",
        "BROKEN",
        "A requirement is broken.",
        '<path d="M0 0H10V10H0Z"/><path class="on" d="M2.2 2.2 7.8 7.8M7.8 2.2 2.2 7.8" '
        'stroke-width="1.8"/>',
        5,
    ),
)
BY_NAME = {verdict.name: verdict for verdict in VERDICTS}
