"""Puts the numbers of the tables where their names stand, so that the board keeps no names.

A number's name, bound by const() or written in capitals, costs a board room in the dictionary
of every module that imports it, and a look-up whenever it is used. The values are those of the
very sources; nothing else changes.
"""

import ast
import contextlib
import operator
from collections.abc import Callable

from leafwinch_host.firmware_build.closure import is_typing_only

Constants = dict[str, int]

_OPERATORS: dict[type[ast.operator], Callable[[int, int], int]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.FloorDiv: operator.floordiv,
    ast.Mod: operator.mod,
    ast.LShift: operator.lshift,
    ast.RShift: operator.rshift,
    ast.BitOr: operator.or_,
    ast.BitAnd: operator.and_,
    ast.BitXor: operator.xor,
}


# Members of classes that only the bench asks for; the board never does.
BENCH_ONLY = ("FIELDS", "parts", "snapshot", "restore", "canonical")


class NotConstant(Exception):  # noqa: N818 - says what an expression is
    """The expression is not a number that is known before the board starts."""


class Inliner:
    """Knows the constants of all modules and rewrites one module after the other.

    Args:
        trees: syntax tree of each module by dotted name; they are not changed.
    """

    def __init__(self, trees: dict[str, ast.Module]) -> None:
        self.trees = trees
        self._known: dict[str, Constants] = {}
        self._own: dict[str, set[str]] = {}

    def constants(self, module: str) -> Constants:
        """Return the constants of a module by name, the imported ones included."""
        if module in self._known:
            return self._known[module]
        found: Constants = {}
        self._known[module] = found
        own: set[str] = set()
        self._own[module] = own
        for node in self.trees[module].body:
            if isinstance(node, ast.ImportFrom) and node.module in self.trees:
                theirs = self.constants(node.module)
                for alias in node.names:
                    if alias.name in theirs:
                        found[alias.asname or alias.name] = theirs[alias.name]
            else:
                name, value = _defined(node)
                if value is not None:
                    with contextlib.suppress(NotConstant):
                        found[name] = evaluate(value, found)
                        own.add(name)
        return found

    def rewritten(self, module: str, keep_names: bool = False) -> str:
        """Return the source of one module with its constants put in.

        keep_names: keep the definitions and imports of constants for whoever looks them up
        from outside, as the tests do.
        """
        tree = ast.parse(ast.unparse(self.trees[module]))
        constants = self.constants(module)
        others = self._modules_by_name(tree)
        tree = ast.fix_missing_locations(_WithoutTyping().visit(tree))
        _refuse_shadows(tree, constants, self._own[module])
        tree = _Numbers(constants, others).visit(tree)
        if not keep_names:
            own = self._own[module]
            tree.body = [node for node in tree.body if not self._is_gone(node, constants, own)]
            tree = _WithoutBench().visit(tree)
            _refuse_bench_members(tree)
            _drop_unused_imports(tree)
        ast.fix_missing_locations(tree)
        return ast.unparse(tree) + "\n"

    def _modules_by_name(self, tree: ast.Module) -> dict[str, Constants]:
        """Return constants of whole modules that were imported, by the name used for them."""
        found: dict[str, Constants] = {}
        for node in tree.body:
            if isinstance(node, ast.ImportFrom) and node.module:
                for alias in node.names:
                    whole = f"{node.module}.{alias.name}"
                    if whole in self.trees:
                        found[alias.asname or alias.name] = self.constants(whole)
        return found

    def _is_gone(self, node: ast.stmt, constants: Constants, own: set[str]) -> bool:
        if _defined(node)[0] in own:
            return True
        if isinstance(node, ast.ImportFrom) and node.module in self.trees:
            node.names = [a for a in node.names if (a.asname or a.name) not in constants]
            return not node.names
        return False


def _defined(node: ast.stmt) -> tuple[str, ast.expr | None]:
    """Return the name in capitals that a statement of a module binds, and to what; or '', None."""
    if not isinstance(node, ast.Assign) or not isinstance(node.targets[0], ast.Name):
        return "", None
    name = node.targets[0].id
    value = node.value
    if isinstance(value, ast.Call) and ast.unparse(value.func) == "const":
        return name, value.args[0]
    return (name, value) if name.isupper() else ("", None)


def evaluate(node: ast.expr, constants: Constants) -> int:
    """Return the number of a constant expression; raises NotConstant for any other."""
    if isinstance(node, ast.Constant) and type(node.value) is int:
        return node.value
    if isinstance(node, ast.Name) and node.id in constants:
        return constants[node.id]
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return -evaluate(node.operand, constants)
    if isinstance(node, ast.BinOp) and type(node.op) in _OPERATORS:
        left, right = evaluate(node.left, constants), evaluate(node.right, constants)
        return _OPERATORS[type(node.op)](left, right)
    raise NotConstant(ast.unparse(node))


class _WithoutTyping(ast.NodeTransformer):
    """Takes out what only type checkers read, and docstrings."""

    def visit_If(self, node: ast.If) -> ast.AST | list[ast.stmt]:
        self.generic_visit(node)
        return node.orelse if is_typing_only(node) else node

    def visit_Expr(self, node: ast.Expr) -> ast.AST | None:
        text = isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
        return None if text else node

    def visit_ClassDef(self, node: ast.ClassDef) -> ast.AST:
        self.generic_visit(node)
        node.body = node.body or [ast.Pass()]
        return node

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        self.generic_visit(node)
        node.body = node.body or [ast.Pass()]
        # Fast functions need the types of their arguments; no other function does.
        if not node.decorator_list:
            node.returns = None
            for argument in node.args.args:
                argument.annotation = None
        return node

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST | None:
        if node.value is None:
            return None
        return ast.copy_location(ast.Assign([node.target], node.value), node)


class _WithoutBench(ast.NodeTransformer):
    """Takes out of the classes what only the bench asks for."""

    def visit_ClassDef(self, node: ast.ClassDef) -> ast.AST:
        node.body = [item for item in node.body if _member(item) not in BENCH_ONLY]
        node.body = node.body or [ast.Pass()]
        return node


def _member(node: ast.stmt) -> str:
    """Return the name that a statement of a class binds, or ''."""
    if isinstance(node, ast.FunctionDef):
        return node.name
    if isinstance(node, ast.Assign):
        return ast.unparse(node.targets[0])
    if isinstance(node, ast.AnnAssign):
        return ast.unparse(node.target)
    return ""


def _refuse_bench_members(tree: ast.Module) -> None:
    """Raise ValueError where the board would ask for what was taken out."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in BENCH_ONLY:
            raise ValueError(f"line {node.lineno} asks for {node.attr}, which no board has")


class _Numbers(ast.NodeTransformer):
    """Puts numbers in the place of names."""

    def __init__(self, constants: Constants, others: dict[str, Constants]) -> None:
        self.constants = constants
        self.others = others

    def visit_Name(self, node: ast.Name) -> ast.AST:
        if isinstance(node.ctx, ast.Load) and node.id in self.constants:
            return ast.Constant(self.constants[node.id])
        return node

    def visit_Attribute(self, node: ast.Attribute) -> ast.AST:
        if isinstance(node.value, ast.Name) and isinstance(node.ctx, ast.Load):
            theirs = self.others.get(node.value.id, {})
            if node.attr in theirs:
                return ast.Constant(theirs[node.attr])
        self.generic_visit(node)
        return node


def _refuse_shadows(tree: ast.Module, constants: Constants, own: set[str]) -> None:
    """Raise ValueError where a constant's name is bound again, since it would be replaced."""
    bound = [
        node.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load)
    ]
    bound += [node.arg for node in ast.walk(tree) if isinstance(node, ast.arg)]
    for name in constants:
        if bound.count(name) > (1 if name in own else 0):
            raise ValueError(f"the constant {name} is bound more than once")


def _drop_unused_imports(tree: ast.Module) -> None:
    """Drop imported names that nothing uses any more."""
    used = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    kept: list[ast.stmt] = []
    for node in tree.body:
        if isinstance(node, ast.ImportFrom):
            node.names = [a for a in node.names if (a.asname or a.name) in used]
            if not node.names:
                continue
        kept.append(node)
    tree.body = kept
