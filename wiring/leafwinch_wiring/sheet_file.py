"""The point-to-point sheet as a file to fill in, and a filled one read back.

The file is text with semicolons between the columns; a spreadsheet may put commas or tabs in
their place. Each row says by itself what was measured, so that a filled sheet can be judged
without making the sheet anew, and rows for more measurements can be added below it.
"""

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_candidates import Candidate, accessible, states
from leafwinch_wiring.point_limits import expected_words
from leafwinch_wiring.point_sheet import PointSheet, worked_words

COLUMNS = ("number", "from", "to", "operate", "expected", "measured", "remark")
TITLE = "Measured point to point, power off and locked off, supply disconnected at both poles"
HOW = "Write into 'measured': open, closed, or a value such as 0.4, 1.2k or 1.2 kohm"
LONGEST_LINE = 2000
MOST_ADDED = 40
"""How many rows may be added below those of the sheet itself."""

NUMBER = re.compile(r"([0-9]{1,12}(?:[.,][0-9]{1,12})?) ?(k|K|M)?(?: ?(?:ohm|ohms|Ohm|Ω))?")
SCALE = {"": 1.0, "k": 1e3, "K": 1e3, "M": 1e6}


@dataclass(frozen=True, slots=True)
class FilledRow:
    """One row of a filled sheet.

    Attributes:
        number: as on the sheet, from 1.
        line: line of the file, from 1.
        a, b: the terminals measured between.
        operated, acts: the device worked by hand and how, both empty with all at rest.
        ohm: the reading in ohm, infinite for open, None when not measured.
    """

    number: int
    line: int
    a: str
    b: str
    operated: str
    acts: str
    ohm: float | None


@dataclass(frozen=True, slots=True)
class FilledSheet:
    """A filled sheet.

    Attributes:
        source: the file's name.
        rows: its rows, those added to the sheet too.
        lost: the numbers of rows that the file no longer has.
        delimiter: what parts its columns.
    """

    source: str
    rows: tuple[FilledRow, ...]
    lost: tuple[int, ...]
    delimiter: str = field(default=";", compare=False)


def write_csv(sheet: PointSheet) -> str:
    """The sheet as text to fill in, lines ending in a line feed."""
    lines = [
        f"# {TITLE}",
        f"# {HOW}",
        f"# netlist: {sheet.netlist}",
        f"# hash: {sheet.content_hash}",
        f"# rows: {len(sheet.rows)}",
        ";".join(COLUMNS),
    ]
    lines += [
        f"{row.number};{row.what.a};{row.what.b};{row.operate};{row.expected};;"
        for row in sheet.rows
    ]
    return "\n".join(lines) + "\n"


def read_filled(text: str, source: str, net: Netlist) -> FilledSheet:
    """Read a filled sheet.

    Args:
        text: the file's text.
        source: its name, for messages.
        net: the netlist that the machine was wired by.

    Raises:
        BadInput: one sentence that names the file, the line and what is wrong there.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    heads = _heads(lines, source)
    _check_netlist(heads, source, net)
    total = _row_count(heads, source)
    start, delimiter = _header(lines, source)
    reader = _RowReader(net, source, delimiter, total)
    for number, line in enumerate(lines[start:], start + 1):
        if line.strip(" \t;,") and not line.lstrip().startswith("#"):
            reader.take(number, line)
    known = {row.number for row in reader.rows}
    lost = tuple(number for number in range(1, total + 1) if number not in known)
    return FilledSheet(source, tuple(reader.rows), lost, delimiter)


def row_to_add(filled: FilledSheet, what: Candidate) -> str:
    """One more measurement as a line to put below a filled sheet, without a line end.

    Args:
        filled: the sheet.
        what: the measurement, with the sound circuit's readings.
    """
    number = 1 + max([row.number for row in filled.rows] + list(filled.lost), default=0)
    expected = expected_words(what.low_ohm, what.high_ohm, what.closed)
    cells = [str(number), what.a, what.b, worked_words(what.operated, what.acts), expected, "", ""]
    text = io.StringIO()
    csv.writer(text, delimiter=filled.delimiter, lineterminator="").writerow(cells)
    return text.getvalue()


def read_ohm(text: str) -> float | None:
    """A reading in ohm: infinite for open, 0 for closed; None when the text is none.

    Known are `open`, `OL`, `closed`, and a number with or without k or M and ohm.
    """
    word = text.strip()
    if word.lower() in ("open", "ol", "o.l", "o.l."):
        return math.inf
    if word.lower() == "closed":
        return 0.0
    found = NUMBER.fullmatch(word)
    if found is None:
        return None
    return float(found[1].replace(",", ".")) * SCALE[found[2] or ""]


def _shown(text: str) -> str:
    """The beginning of a text that somebody wrote, fit to stand in a sentence."""
    return "".join(letter if letter.isprintable() else "?" for letter in text[:60])


def _heads(lines: list[str], source: str) -> dict[str, tuple[int, str]]:
    """The comment lines above the table that have a key, with the line each is on."""
    found: dict[str, tuple[int, str]] = {}
    for number, line in enumerate(lines, 1):
        # A spreadsheet puts the cell into quotes and adds empty ones behind it.
        text = line.strip().strip(";,\t").strip('"').strip()
        if text.startswith("#"):
            key, _, value = text[1:].partition(":")
            if key.strip() in ("netlist", "hash", "rows"):
                if key.strip() in found:
                    raise BadInput(f"{source}, line {number}: '# {key.strip()}:' stands twice.")
                found[key.strip()] = number, value.strip()
    return found


def _check_netlist(heads: dict[str, tuple[int, str]], source: str, net: Netlist) -> None:
    if "hash" not in heads:
        raise BadInput(
            f"{source}, line 1: the line '# hash:' is missing; keep the lines that begin with #."
        )
    line, found = heads["hash"]
    if found != net.content_hash:
        name = heads["netlist"][1] if "netlist" in heads else "of an unknown name"
        raise BadInput(
            f"{source}, line {line}: the sheet was made from netlist {_shown(name)} with hash"
            f" '{_shown(found[:12])}', but {net.name} now has '{net.content_hash[:12]}';"
            " make the sheet anew."
        )


def _row_count(heads: dict[str, tuple[int, str]], source: str) -> int:
    line, found = heads.get("rows", (1, ""))
    if not re.fullmatch("[0-9]{1,4}", found):
        raise BadInput(
            f"{source}, line {line}: '# rows:' with the number of rows is needed, found"
            f" '{_shown(found)}'."
        )
    return int(found)


def _header(lines: list[str], source: str) -> tuple[int, str]:
    """Number of lines up to and with the table's head, and what parts its columns."""
    for number, line in enumerate(lines, 1):
        for delimiter in ";,\t":
            names = [name.strip(' "').lower() for name in line.split(delimiter)]
            if tuple(names[: len(COLUMNS)]) == COLUMNS:
                return number, delimiter
    raise BadInput(
        f"{source}, line {max(1, len(lines))}: no line with the columns {', '.join(COLUMNS)} found."
    )


class _RowReader:
    """Reads the rows of one file."""

    def __init__(self, net: Netlist, source: str, delimiter: str, total: int) -> None:
        self.net = net
        self.source = source
        self.delimiter = delimiter
        self.total = total
        self.terminals = set(accessible(net))
        self.states = {worked_words(ref, acts): (ref, acts) for ref, acts, _ in states(net)}
        self.rows: list[FilledRow] = []
        self.seen: dict[int, int] = {}

    def take(self, line: int, text: str) -> None:
        """Read one line of the table."""
        where = f"{self.source}, line {line}"
        cells = list(self._cells(where, text))
        most = self.total + MOST_ADDED
        if not re.fullmatch("[0-9]{1,4}", cells[0]) or not 1 <= int(cells[0]) <= most:
            raise BadInput(
                f"{where}: number '{_shown(cells[0])}' is unknown; the sheet has 1 to {self.total},"
                f" and rows that are added to it go on up to {most}."
            )
        number = int(cells[0])
        if number in self.seen:
            raise BadInput(f"{where}: number {number} stands on line {self.seen[number]} already.")
        self.seen[number] = line
        for terminal in cells[1:3]:
            if terminal not in self.terminals:
                raise BadInput(
                    f"{where}: terminal '{_shown(terminal)}' is not in netlist {self.net.name}."
                )
        if cells[1] == cells[2]:
            raise BadInput(f"{where}: 'from' and 'to' are the same terminal {cells[1]}.")
        if cells[3] not in self.states:
            raise BadInput(
                f"{where}: '{_shown(cells[3])}' in 'operate' is not known; leave it as it was."
            )
        ohm = read_ohm(cells[5]) if cells[5] else None
        if cells[5] and ohm is None:
            raise BadInput(
                f"{where}: '{_shown(cells[5])}' in 'measured' is no reading; allowed are open,"
                " closed, a value such as 0.4, 1.2k or 1.2 kohm, or nothing."
            )
        self.rows.append(FilledRow(number, line, cells[1], cells[2], *self.states[cells[3]], ohm))

    def _cells(self, where: str, text: str) -> Iterator[str]:
        if len(text) > LONGEST_LINE:
            raise BadInput(f"{where}: the line is longer than {LONGEST_LINE} characters.")
        try:
            cells = next(csv.reader([text], delimiter=self.delimiter, strict=True))
        except (csv.Error, StopIteration):
            raise BadInput(f"{where}: the quotes do not match.") from None
        if len(cells) < len(COLUMNS) - 1:
            raise BadInput(
                f"{where}: {len(cells)} columns found, needed are the {len(COLUMNS)} columns"
                f" {', '.join(COLUMNS)}."
            )
        if any(cell.strip() for cell in cells[len(COLUMNS) :]):
            raise BadInput(
                f"{where}: more than {len(COLUMNS)} columns found; put quotes around a cell with"
                f" '{self.delimiter.strip() or 'a tab'}' in it."
            )
        for cell in cells:
            yield cell.strip()
