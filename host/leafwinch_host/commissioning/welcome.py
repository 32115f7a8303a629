"""What is said before the first step of a sitting: what to have at hand, and where it goes on."""

from collections.abc import Sequence

from leafwinch_host.commissioning.record import Record
from leafwinch_host.commissioning.results import FAIL, PASS
from leafwinch_host.commissioning.table import Context, Step

TOOLS = (
    "voltmeter with a memory for the lowest value, ohmmeter, clamp meter, insulation tester",
    "barrier, props, a lock for the isolator, a stick to work limit switches from afar",
    "a level or angle gauge, a rule, marks or a phone that films; a hanging scale, if there is one",
    "the service link, the filled continuity sheet, and the drawings that 'leafwinch wire' writes",
)
KEYS = (
    "Each step shows first what will be done; it begins with Enter. At any time 's REASON' skips "
    "a step, 'r' begins it anew, 'q' leaves. The same command goes on where it was left, also "
    "after Ctrl-C, a power cut or a crash."
)


def first_words(context: Context, total: int) -> tuple[str, tuple[str, ...]]:
    """Return title and sentences before the very first step."""
    return (
        f"Commissioning of {context.site.name}: {total} steps, half a day",
        (
            "Two persons, one of them at the isolator as long as anything can move; a licensed "
            "electrician for everything on the mains. Local codes come first.",
            *(f"Have at hand: {words}." for words in TOOLS),
            KEYS,
        ),
    )


def next_words(record: Record, steps: Sequence[Step]) -> tuple[str, tuple[str, ...]]:
    """Return title and sentences before a commissioning goes on."""
    titles = {step.id: step.title for step in steps}
    found = [record.steps[step.id] for step in steps if step.id in record.steps]
    passed = sum(row.verdict == PASS for row in found)
    failed = [titles[row.id] for row in found if row.verdict == FAIL]
    left = [step for step in steps if step.id not in record.steps or record.steps[step.id].open]
    lines = [f"{passed} of {len(steps)} steps have passed."]
    if left:
        lines[0] += f" It goes on with '{left[0].title}', after the people."
    if failed:
        lines.append(f"Failed so far, and done again: {'; '.join(failed)}.")
    lines += [
        "Who is there and who may be in the way can have changed meanwhile: that is asked anew. "
        "Barrier and props must stand ready as before.",
        KEYS,
    ]
    return "Commissioning goes on", tuple(lines)
