"""Reads a netlist file and its includes into a checked `Document`.

Every failure is one `BadInput` sentence that names the file, the line or key,
what was found and what is allowed.
"""

import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.format import REQUIRED_KEYS, Document

_PACKAGE = Path(__file__).resolve().parent
_BESIDE = _PACKAGE.parent
# The source tree keeps the netlists beside the package; an installed wheel holds them inside.
SHIPPED_FOLDER = _BESIDE if (_BESIDE / "reference.toml").is_file() else _PACKAGE / "netlists"
LIST_TABLES = ("location", "cable", "part")
WIRE_GROUPS = ("control", "power", "earth")
MAX_FILE_BYTES = 1_000_000


def shipped_names() -> tuple[str, ...]:
    """Names of the netlists that come with the project, includes left out."""
    found = []
    for path in SHIPPED_FOLDER.glob("*.toml"):
        if "name" in tomllib.loads(path.read_text(encoding="utf-8")):
            found.append(path.stem)
    return tuple(sorted(found))


def find_file(name_or_path: str | Path) -> Path:
    """Turn a shipped name or a path into a path; raise BadInput if it is neither."""
    given = Path(name_or_path)
    if given.suffix != ".toml" and len(given.parts) == 1 and not given.exists():
        shipped = SHIPPED_FOLDER / f"{given}.toml"
        if str(given) in shipped_names():
            return shipped
        allowed = ", ".join(shipped_names())
        raise BadInput(
            f"Netlist '{name_or_path}' is neither a file nor a shipped netlist; shipped are"
            f" {allowed}."
        )
    return given


def read_toml(path: Path) -> dict[str, Any]:
    """Read one TOML file; absent, empty, oversized, binary or broken ones raise BadInput."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise BadInput(
            f"Netlist file {path} cannot be opened: {reason}; give the path of a TOML file."
        ) from error
    if not raw.strip():
        raise BadInput(f"Netlist file {path} is empty; it must hold a netlist in TOML.")
    if len(raw) > MAX_FILE_BYTES:
        raise BadInput(
            f"Netlist file {path} has {len(raw)} bytes; a netlist has at most {MAX_FILE_BYTES}."
        )
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise BadInput(
            f"Netlist file {path}, line {line}: byte 0x{raw[error.start]:02x} is not text;"
            " a netlist is TOML in UTF-8."
        ) from error
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadInput(f"Netlist file {path} is not valid TOML: {error}.") from error


def merge_includes(path: Path) -> dict[str, Any]:
    """Read a netlist and append the lists of the files it includes (one level only)."""
    main = read_toml(path)
    includes = main.pop("include", [])
    if not isinstance(includes, list) or not all(isinstance(name, str) for name in includes):
        raise BadInput(
            f"Netlist file {path}, key 'include': found {includes!r}; allowed is a list of file"
            " names in the same folder."
        )
    for name in includes:
        if Path(name).name != name:
            raise BadInput(
                f"Netlist file {path}, key 'include': found '{name}'; allowed are plain file names"
                " in the same folder."
            )
        append_tables(main, read_toml(path.parent / name), path.parent / name)
    return main


def append_tables(main: dict[str, Any], extra: dict[str, Any], source: Path) -> None:
    """Append the list tables and wires of an included file to the main one, in place."""
    for key, value in extra.items():
        if key in LIST_TABLES and isinstance(value, list):
            main[key] = value + as_list(main.get(key))
        elif key == "wires" and isinstance(value, dict):
            wires = main.setdefault("wires", {})
            for group, entries in value.items():
                if group not in WIRE_GROUPS or not isinstance(wires, dict):
                    raise BadInput(
                        f"Netlist file {source}, key 'wires.{group}' is unknown; allowed are"
                        f" {', '.join(WIRE_GROUPS)}."
                    )
                wires[group] = as_list(entries) + as_list(wires.get(group))
        else:
            raise BadInput(
                f"Included netlist file {source}, key '{key}' is not allowed there; allowed are"
                f" {', '.join(LIST_TABLES)} and wires."
            )


def as_list(value: object) -> list[Any]:
    """Return value if it is a list, else an empty list; pydantic reports wrong types later."""
    return value if isinstance(value, list) else []


def read_document(name_or_path: str | Path) -> tuple[Path, Document]:
    """Read and check a netlist; return its path and contents, or raise BadInput."""
    path = find_file(name_or_path)
    data = merge_includes(path)
    try:
        document = Document.model_validate(data)
    except ValidationError as error:
        raise BadInput(sentence_for(path, data, error.errors()[0])) from error
    for part in document.part:
        for key in REQUIRED_KEYS.get(part.kind, ()):
            if not getattr(part, key):
                raise BadInput(
                    f"Netlist file {path}, part '{part.ref}': key '{key}' is missing; a part of"
                    f" kind '{part.kind}' must have it."
                )
    return path, document


def sentence_for(path: Path, data: dict[str, Any], error: ErrorDetails) -> str:
    """Put the first pydantic finding into one sentence about the file."""
    where, key = place_of(data, error["loc"])
    head = f"Netlist file {path}, {where}: " if where else f"Netlist file {path}: "
    kind = error["type"]
    found = repr(error["input"])
    if len(found) > 60:
        found = found[:57] + "..."
    if kind == "missing":
        return f"{head}key '{key}' is missing; it must be given."
    if kind == "extra_forbidden":
        return f"{head}key '{key}' is unknown; remove it or check its spelling."
    if kind == "literal_error":
        allowed = error.get("ctx", {}).get("expected", "")
        return f"{head}key '{key}' is unknown as {found}; allowed are {allowed}."
    message = error["msg"][0].lower() + error["msg"][1:]
    return f"{head}key '{key}' is {found}, which is not allowed: {message}."


def place_of(data: object, location: tuple[int | str, ...]) -> tuple[str, str]:
    """Name the table entry an error location points into, and the key within it."""
    places: list[str] = []
    key = ""
    current: object = data
    for step in location:
        if isinstance(step, int):
            current = current[step] if isinstance(current, list) and step < len(current) else None
            label = f"entry {step + 1}"
            if isinstance(current, dict):
                label = f"'{current.get('ref') or current.get('name') or label}'"
            elif isinstance(current, list):
                label = f"entry {step + 1} {current!r}"
            places.append(f"{key} {label}")
            key = ""
        else:
            if key and not step.startswith("tuple["):
                places.append(f"table '{key}'")
            if not step.startswith("tuple["):
                key = step
            current = current.get(step) if isinstance(current, dict) else current
    if not key and places:
        key = places[-1].split(" ")[0]
    return ", ".join(places), key
