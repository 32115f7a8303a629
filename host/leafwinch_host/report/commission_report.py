"""The record of a commissioning as HTML page and as PDF: measured against required."""

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from leafwinch_host import version
from leafwinch_host.commissioning.record import Record, StepRecord
from leafwinch_host.commissioning.results import FAIL, PASS, SKIPPED
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
INSPECTION_DAYS = 365  # common practice, no source
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


@dataclass(frozen=True, slots=True)
class StepWords:
    """One step, ready to show."""

    title: str
    verdict: str
    mark: str
    css: str
    why: str
    limits: str
    history: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class CommissionReport:
    """Everything that the templates show, ready as text.

    Attributes:
        title, summary: of the site; mark, css, sentence: of the record.
        legal, cautions: of every report; over water drowning comes first.
        counts: how many steps passed, failed, were skipped or do not concern it.
        steps: in their order; skipped: those left out, with reasons.
        identity: what was commissioned: hashes, program, trace.
        program_files: name and SHA-256 of each file of the program.
        signed: who signs; inspection: when to look again.
    """

    title: str
    summary: str
    mark: str
    css: str
    sentence: str
    legal: str
    cautions: tuple[words.Caution, ...]
    counts: str
    steps: tuple[StepWords, ...]
    skipped: tuple[tuple[str, str], ...]
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
    rows = list(record.steps.values())
    concern = [row for row in rows if row.times >= 0]
    last = max((row.utc for row in rows), default="")
    return CommissionReport(
        title=f"{site.name} with wiring {about.get('wiring', site.wiring)}",
        summary=site.summary,
        mark=MARKS[record.verdict],
        css=CLASSES[record.verdict],
        sentence=SENTENCES[record.verdict],
        legal=LEGAL,
        cautions=cautions_for(site),
        counts=(
            f"{record.count(PASS)} passed, {record.count(FAIL)} failed, "
            f"{sum(row.verdict == SKIPPED for row in concern)} skipped, "
            f"{len(rows) - len(concern)} do not concern this installation"
        ),
        steps=tuple(map(_step, rows)),
        skipped=tuple((row.title, row.why) for row in rows if row.verdict == SKIPPED),
        identity=_identity(record, trace),
        program_files=tuple(dict(about.get("files", {})).items()),
        signed=SIGNED,
        inspection=_inspection(last),
    )


def _step(row: StepRecord) -> StepWords:
    history = [f"done {row.times} times" if row.times > 1 else ""]
    if row.before:
        history.append(f"before: {', '.join(row.before)}")
    history += [row.who, row.utc.replace("T", " ").replace("+00:00", " UTC")]
    verdict = row.verdict if row.times >= 0 else "does not concern"
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
            )
            for measured in row.measured
        ),
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
