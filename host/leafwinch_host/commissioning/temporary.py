"""Temporary settings of a test: noted before they are sent, so that a crash can't hide them."""

from datetime import UTC, datetime

from leafwinch_host.board import answers
from leafwinch_host.commissioning.table import Context

KEY = "temporary"
PUT_BACK = "put_back"


def note(context: Context, step: str, values: dict[str, int]) -> None:
    """Write into the record what is about to be sent, at once."""
    context.facts[KEY] = {"step": step, "values": dict(values)}
    context.keep()


def forget(context: Context) -> None:
    """Take the note out of the record: every setting is the site's again."""
    if context.facts.pop(KEY, None) is not None:
        context.keep()


def noted(context: Context) -> str:
    """Return the step whose temporary settings may still be on the board, or an empty text."""
    found = context.facts.get(KEY)
    return str(found.get("step", "a test")) if isinstance(found, dict) else ""


def tell(context: Context, step: str, names: list[str]) -> None:
    """Keep in the record that settings which a broken off test left behind were put back."""
    told = list(context.facts.get(PUT_BACK, ()))
    utc = datetime.now(UTC).isoformat(timespec="seconds")
    context.facts[PUT_BACK] = [*told, {"step": step, "names": names, "utc": utc}]
    context.keep()


def on_board(context: Context, wanted: dict[str, int]) -> dict[str, int]:
    """Return the settings on the board, of those that are wanted, that are not as wanted."""
    found = answers.settings(context.line.link)["settings"]
    return {name: found[name] for name, value in wanted.items() if found.get(name, value) != value}
