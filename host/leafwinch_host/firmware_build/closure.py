"""Which modules of the firmware a board needs: all that its start imports, and no other."""

import ast
from pathlib import Path

from leafwinch_host.compiled import plain_folder

START = ("leafwinch.edge.hardware", "leafwinch.edge.start")  # what main.py imports
PACKAGE = "leafwinch"


def firmware_folder() -> Path:
    """Return the folder that holds main.py and the package."""
    # Not leafwinch.__path__, which with the compiled build is a copy that no board can run.
    return plain_folder("leafwinch").parent


def is_typing_only(node: ast.stmt) -> bool:
    """Tell whether a statement is `if TYPE_CHECKING:`, whose body no board ever runs."""
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


def path_of(module: str) -> Path:
    """Return the source file of a module."""
    path = firmware_folder() / Path(*module.split("."))
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


def board_modules(also: tuple[str, ...] = ()) -> dict[str, ast.Module]:
    """Return the syntax tree of every module that a board loads, by dotted name, sorted.

    also: modules that nothing on the board imports, with what they import.
    """
    trees: dict[str, ast.Module] = {}
    waiting = [*START, *also]
    while waiting:
        module = waiting.pop()
        if module in trees:
            continue
        tree = ast.parse(path_of(module).read_text(encoding="utf-8"))
        trees[module] = tree
        parent = module.rpartition(".")[0]
        if parent:
            waiting.append(parent)
        waiting += _imports(tree)
    return dict(sorted(trees.items()))


def _imports(tree: ast.Module) -> list[str]:
    found: list[str] = []
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.If) and is_typing_only(node):
            waiting += node.orelse
            continue
        if isinstance(node, ast.ImportFrom) and node.module and _is_ours(node.module):
            found.append(node.module)
            folder = path_of(node.module).parent
            if path_of(node.module).name == "__init__.py":
                found += [
                    f"{node.module}.{alias.name}"
                    for alias in node.names
                    if (folder / f"{alias.name}.py").is_file()
                ]
        waiting += ast.iter_child_nodes(node)
    return found


def _is_ours(module: str) -> bool:
    return module == PACKAGE or module.startswith(PACKAGE + ".")
