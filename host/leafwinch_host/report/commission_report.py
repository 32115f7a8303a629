"""The record of a commissioning as HTML page and as PDF: measured against required."""

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from leafwinch_host import version
from leafwinch_host.commissioning import temporary
from leafwinch_host.commissioning.not_proven import not_proven
from leafwinch_host.commissioning.record import Record, StepRecord
from leafwinch_host.commissioning.results import FAIL, PASS, SKIPPED
from leafwinch_host.commissioning.steps import STEPS
from leafwinch_host.report import words
from leafwinch_host.report.made import page, paper, paper_parts
from leafwinch_host.report.prove_report import cautions_for
from leafwinch_sim.site_schema import Site

MARKS = {PASS: "✓", FAIL: "✕", SKIPPED: "–"}
CLASSES = {PASS: "holds", FAIL: "broken", SKIPPED: "conditions"}
SENTENCES = {
    PASS: "Every step that concerns this installation has passed.",
    FAIL: "Steps have failed: do not use the drive before they are mended and repeated.",
    SKIPPED: "Not complete: steps were skipped or are still to be done. They are listed below.",
}
LEGAL = (
    "Local codes and rules of work come first, and a licensed electrician decides on the "
    "electrical part. This record certifies nothing: it says what was measured on one day, on one "
    "installation, by the persons named, and no more. A commissioning does not find what ages or "
    "breaks later."
)
LEFT = (
    "Temporary settings of a test are still on the board: nobody uses the drive before "
    "'leafwinch commission' has put them back."
)
TYPED = "†"  # beside a value that a person measured and typed
INSPECTION_DAYS = 365  # common practice, no source
LONG_LIST = 20  # values just as required, more of which are shown side by side
CHUNK = 1 << 20
SIGNED = ("At the control", "At the isolator", "Licensed electrician", "Owner or operator")


@dataclass(frozen=True, slots=True)
class Row:
    """One measured value, ready to show."""

    name: str
    value: str
    required: str
    mark: str
    css: str
    typed: str


@dataclass(frozen=True, slots=True)
class StepWords:
    """One step, ready to show; `exact` are values of a long list that are just as required."""

    title: str
    verdict: str
    mark: str
    css: str
    why: str
    limits: str
    history: str
    rows: tuple[Row, ...]
    exact: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class CommissionReport:
    """Everything that the templates show, ready as text.

    Attributes:
        title, summary: of the site; mark, css, sentence: of the record.
        warning: what must be done at once, or an empty text.
        legal, cautions: of every report; over water drowning comes first.
        counts: how many steps passed, failed, were skipped or do not concern it.
        steps: in their order; skipped: those left out, with reasons.
        not_proven: what this record does not prove, with what may be done about it.
        typed: what the mark beside a typed value means.
        identity: what was commissioned: hashes, program, trace.
        program_files: name and SHA-256 of each file of the program.
        signed: who signs; inspection: when to look again.
    """

    title: str
    summary: str
    mark: str
    css: str
    sentence: str
    warning: str
    legal: str
    cautions: tuple[words.Caution, ...]
    counts: str
    steps: tuple[StepWords, ...]
    skipped: tuple[tuple[str, str], ...]
    not_proven: tuple[tuple[str, str], ...]
    typed: str
    identity: tuple[tuple[str, str], ...]
    program_files: tuple[tuple[str, str], ...]
    signed: tuple[str, ...]
    inspection: str


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal, or 'no file'."""
    digest = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while data := file.read(CHUNK):
                digest.update(data)
    except OSError:
        return "no file"
    return digest.hexdigest()


def build(record: Record, site: Site, trace: Path) -> CommissionReport:
    """Turn a record into the texts of its report.

    Args:
        record: what was done.
        site: the installation.
        trace: the file with all lines.
    """
    about: Mapping[str, Any] = record.about
    order = {step.id: place for place, step in enumerate(STEPS)}
    rows = sorted(record.steps.values(), key=lambda row: order.get(row.id, len(order)))
    concern = [row for row in rows if row.times >= 0]
    last = max((row.utc for row in rows), default="")
    return CommissionReport(
        title=f"{site.name} with wiring {about.get('wiring', site.wiring)}",
        summary=site.summary,
        mark=MARKS[record.verdict],
        css=CLASSES[record.verdict],
        sentence=SENTENCES[record.verdict],
        warning=LEFT if temporary.KEY in about else "",
        legal=LEGAL,
        cautions=cautions_for(site),
        counts=_counts(record, len(rows) - len(concern)),
        steps=tuple(map(_step, rows)),
        skipped=tuple((row.title, row.why) for row in rows if row.verdict == SKIPPED),
        not_proven=not_proven(record),
        typed=f"{TYPED} measured and typed by a person; every other value was read off the board.",
        identity=_identity(record, trace),
        program_files=tuple(dict(about.get("files", {})).items()),
        signed=SIGNED,
        inspection=_inspection(last),
    )


def _counts(record: Record, foreign: int) -> str:
    """Say how many steps came to what, and how many were not even reached."""
    skipped = record.count(SKIPPED) - foreign
    parts = [
        f"{count} {words}"
        for count, words in (
            (record.count(PASS), "passed"),
            (record.count(FAIL), "failed"),
            (skipped, "skipped"),
            (foreign, "do not concern this installation"),
            (len(STEPS) - len(record.steps), "not reached"),
        )
        if count or words == "passed"
    ]
    return ", ".join(parts)


def _step(row: StepRecord) -> StepWords:
    history = [f"done {row.times} times" if row.times > 1 else ""]
    if row.before:
        history.append(f"before: {', '.join(row.before)}")
    history += [row.who, row.utc.replace("T", " ").replace("+00:00", " UTC")]
    verdict = row.verdict if row.times >= 0 else "does not concern"
    exact = [one for one in row.measured if one.required and one.shown() == one.required]
    if len(exact) <= LONG_LIST:
        exact = []
    return StepWords(
        title=row.title,
        verdict=verdict,
        mark=MARKS[row.verdict],
        css={PASS: "good", FAIL: "bad", SKIPPED: ""}[row.verdict],
        why=row.why,
        limits=row.limits,
        history="; ".join(filter(None, history)),
        rows=tuple(
            Row(
                name=measured.name,
                value=measured.shown(),
                required=measured.required,
                mark=("✓" if measured.within else "✕") if measured.required else "",
                css="good" if measured.within else "bad",
                typed=TYPED if measured.typed else "",
            )
            for measured in row.measured
            if measured not in exact
        ),
        exact=tuple((one.name, one.shown()) for one in exact),
    )


def _identity(record: Record, trace: Path) -> tuple[tuple[str, str], ...]:
    about = record.about
    names = (
        ("site", "Site"),
        ("site_hash", "Hash of the site on the board"),
        ("wiring", "Wiring"),
        ("netlist_sha256", "SHA-256 of the netlist"),
        ("netlist_hash", "Hash of the netlist on the board"),
        ("settings", "Settings"),
        ("program", "Program on the board"),
        ("begun", "Begun"),
    )
    rows = [(label, str(about[key])) for key, label in names if key in about]
    for told in about.get(temporary.PUT_BACK, ()):
        words = f"{', '.join(told['names'])}: put back {told['utc']} ({told['step']})"
        rows.append(("Settings of a broken off test", words))
    rows.append((f"SHA-256 of {trace.name}", file_digest(trace)))
    rows.append(("Tool", f"leafwinch {version()}"))
    return tuple(rows)


def _inspection(last: str) -> str:
    if not last:
        return ""
    due = date.fromisoformat(last[:10]) + timedelta(days=INSPECTION_DAYS)
    return (
        f"{due.isoformat()} at the latest (a year, common practice, no source): rope, hooks, "
        "brake, limits and every proof test. Sooner where local rules, the sea or hard use ask "
        "for it, and after every repair."
    )


def commission_html(report: CommissionReport) -> str:
    """Return the record as one HTML page that needs nothing from elsewhere."""
    return page("commission", r=report)


def commission_pdf(report: CommissionReport) -> bytes:
    """Return the record as the bytes of a PDF file; the same record gives the same bytes."""
    return bytes(paper(paper_parts("commission", asdict(report))))
