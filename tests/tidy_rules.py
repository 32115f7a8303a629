"""The house rules as plain functions over source text.

Every rule takes the text of one file and yields one sentence per offence, so that the same
function judges the tree and the deliberately bad snippets that prove it can fail.
"""

import ast
import re
from collections.abc import Iterator

ROOMS = ("firmware", "wiring", "sim", "host")
PACKAGE_OF_ROOM = {
    "firmware": "leafwinch",
    "wiring": "leafwinch_wiring",
    "sim": "leafwinch_sim",
    "host": "leafwinch_host",
}
FUNCTION_LINES_MAX = 70
FILE_LINES_MAX = 450

# Built from halves, so that this file does not contain what it forbids.
FORBIDDEN_WORDS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        "/wo" + r"rk\b",
        r"\bsha" + "red/",
        r"\b(design|checks|style)" + r"\.md\b",
        r"\b(design|checks|style) " + r"\d+\.\d",
        r"\bspi" + r"ne\b",
        r"\bseed " + "document",
        r"\bsess" + r"ions?\b",
        r"\bsteer" + r"(ing|ed|s)?\b",
        r"\bwork" + r"place\b",
        r"\bhel" + r"pers?\b",
        r"\bthe " + r"brief\b",
        r"\bissues? " + r"(#?\d|show)",
        r"\btod" + r"o\b",
        r"\bfix" + r"me\b",
        "notimplemented" + "error",
        r"\bswim" + "ming",
        r"py" + r"pi\b",
        r"pythonhosted" + r"\.org",
        r"registry\." + "npmjs",
        r"deb\." + "debian",
    )
)
# Words of a language or library that only look like a forbidden one.
ALLOWED_PHRASES = ('scope="sess' + 'ion"',)

LOCK_OFFENCES = tuple(
    re.compile(pattern)
    for pattern in (r"://", r"^\s*-i\b", r"--(extra-)?index", r"--find-links", r"^\s*#", r" @ ")
)
LOCK_PIN = re.compile(r"^[A-Za-z0-9][A-Za-z0-9._-]*==[^ ]+")
SKIPPING = re.compile("pytest" + r"\.(skip|importorskip|mark\.skip|mark\.xfail|xfail)")
COMMON_GENERATOR = re.compile(
    r"random\.(?!Random\b)\w+|(np|numpy)\.random\.(?!default_rng\b)[a-z]\w+"
)
CORE_IMPORTS = ("leafwinch", "micropython", "typing")
EDGE_IMPORTS = (*CORE_IMPORTS, "array", "binascii", "hashlib", "struct")
HARDWARE_FILES = ("firmware/main.py", "leafwinch/edge/hardware.py")
SIM_CLOCK_MODULES = ("time", "datetime", "secrets", "uuid")


def forbidden_words(text: str) -> Iterator[str]:
    """Yield each word that no file of the project may contain."""
    for number, line in enumerate(text.splitlines(), start=1):
        for phrase in ALLOWED_PHRASES:
            line = line.replace(phrase, "")
        for pattern in FORBIDDEN_WORDS:
            found = pattern.search(line)
            if found:
                yield f"line {number}: forbidden words '{found.group()}'"


def lock_offences(text: str) -> Iterator[str]:
    """Yield each line of a lock file that names a place, or a package without a hash."""
    lines = text.splitlines()
    for number, line in enumerate(lines, start=1):
        if any(pattern.search(line) for pattern in LOCK_OFFENCES):
            yield f"line {number}: a lock names packages and hashes only: {line.strip()}"
        elif LOCK_PIN.match(line):
            following = lines[number] if number < len(lines) else ""
            if "--hash=sha256:" not in following:
                yield f"line {number}: no hash for {line.strip()}"
        elif not line.strip().startswith("--hash=sha256:"):
            yield f"line {number}: neither an exact version nor a hash: {line.strip()}"


def too_long(text: str) -> Iterator[str]:
    """Yield the file or each function that is longer than the house allows."""
    lines = len(text.splitlines())
    if lines > FILE_LINES_MAX:
        yield f"the file has {lines} lines, at most {FILE_LINES_MAX} are allowed"
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            if length > FUNCTION_LINES_MAX:
                yield (
                    f"line {node.lineno}: {node.name} has {length} lines, "
                    f"at most {FUNCTION_LINES_MAX} are allowed"
                )


def imported_modules(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Yield the line and the dotted name of every absolute import."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.lineno, node.module


def import_direction(text: str, room: str) -> Iterator[str]:
    """Yield each import of a later room (firmware <- wiring <- sim <- host) or of the tests."""
    later = [PACKAGE_OF_ROOM[name] for name in ROOMS[ROOMS.index(room) + 1 :]]
    for line, module in imported_modules(ast.parse(text)):
        top = module.split(".")[0]
        if top in later or top == "tests":
            yield f"line {line}: {room} must not import {module}"


def board_language(text: str, path: str = "firmware/leafwinch/x.py") -> Iterator[str]:
    """Yield what the firmware must not use: floats, assert, f-strings, other modules.

    Only the files of HARDWARE_FILES may import what they like.
    """
    tree = ast.parse(text)
    allowed = EDGE_IMPORTS if "/edge/" in path else CORE_IMPORTS
    for node in ast.walk(tree):
        line = getattr(node, "lineno", 0)
        if isinstance(node, ast.Constant) and isinstance(node.value, float | complex):
            yield f"line {line}: a float ({node.value})"
        elif isinstance(node, ast.BinOp | ast.AugAssign) and isinstance(node.op, ast.Div):
            yield f"line {line}: a division that makes a float"
        elif isinstance(node, ast.Name) and node.id == "float":
            yield f"line {line}: the name float"
        elif isinstance(node, ast.Assert):
            yield f"line {line}: an assert, which vanishes under optimisation"
        elif isinstance(node, ast.JoinedStr):
            yield f"line {line}: an f-string, which allocates"
    if path.endswith(HARDWARE_FILES):
        return
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            node.body = [ast.Pass()]  # never loaded by the board
    for line, module in imported_modules(tree):
        if module.split(".")[0] not in allowed:
            yield f"line {line}: the import of {module}"


def chance_and_clock(text: str) -> Iterator[str]:
    """Yield each use of the wall clock or of a random generator without a given seed."""
    tree = ast.parse(text)
    for line, module in imported_modules(tree):
        if module.split(".")[0] in SIM_CLOCK_MODULES:
            yield f"line {line}: the import of {module}"
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module in ("random", "numpy.random"):
            for alias in node.names:
                if alias.name not in ("Random", "Generator", "default_rng", "PCG64"):
                    yield f"line {node.lineno}: {node.module}.{alias.name} has no seed of its own"
        elif isinstance(node, ast.Attribute):
            dotted = ast.unparse(node)
            if COMMON_GENERATOR.fullmatch(dotted):
                yield f"line {node.lineno}: {dotted} is one generator for everybody"
            elif dotted == "os.urandom":
                yield f"line {node.lineno}: {dotted} can't be repeated"
        elif isinstance(node, ast.Call) and not node.args and not node.keywords:
            name = ast.unparse(node.func)
            if name.split(".")[-1] in ("Random", "default_rng", "SystemRandom"):
                yield f"line {node.lineno}: {name}() without a seed"


def skipped_tests(text: str, path: str) -> Iterator[str]:
    """Yield each skip, except where a platform has no desktop MicroPython."""
    if "micropython" in path or path.endswith("conftest.py"):
        return
    for number, line in enumerate(text.splitlines(), start=1):
        if SKIPPING.search(line):
            yield f"line {number}: a test that may not run"
