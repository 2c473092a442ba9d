"""Where a module can be changed to be wrong: compares, arithmetic, logic, numbers, truth, what is returned.

What only words a message or a type is left alone.
"""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass

COMPARES: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
SUMS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Add, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip
NUMBER = re.compile(r"-?\d+(\.\d+)?")


@dataclass(frozen=True)
class Change:
    """One change: where it stands (``column`` from 0), what it does, the outermost function it is in."""

    line: int
    column: int
    what: str
    function: tuple[str, int] | None


class Changing(ast.NodeTransformer):
    """Walks a module and makes its ``wanted``-th change; ``changes`` are all it could make."""

    def __init__(self, wanted: int = -1) -> None:
        self.wanted = wanted
        self.changes: list[Change] = []
        self.classes: list[str] = []
        self.function: tuple[str, int] | None = None

    def _here(self, node: ast.expr | ast.stmt, what: str) -> bool:
        """Whether this is the change to make."""
        self.changes.append(Change(node.lineno, node.col_offset, what, self.function))
        return len(self.changes) - 1 == self.wanted

    def visit_Raise(self, node: ast.Raise) -> ast.AST:
        return node

    def visit_JoinedStr(self, node: ast.JoinedStr) -> ast.AST:
        return node

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AST:
        if node.value is not None:
            node.value = self.visit(node.value)
        return node

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        node.args.defaults = [self.visit(one) for one in node.args.defaults]
        node.args.kw_defaults = [one and self.visit(one) for one in node.args.kw_defaults]
        outer = self.function
        first = min([node.lineno, *(one.lineno for one in node.decorator_list)])
        self.function = outer or (".".join((*self.classes, node.name)), first)
        node.body = [self.visit(one) for one in node.body]
        self.function = outer
        return node

    def visit_ClassDef(self, node: ast.ClassDef) -> ast.AST:
        self.classes.append(node.name)
        node.body = [self.visit(one) for one in node.body]
        self.classes.pop()
        return node

    def visit_Compare(self, node: ast.Compare) -> ast.AST:
        self.generic_visit(node)
        for place, op in enumerate(node.ops):
            other = COMPARES[type(op)]
            if self._here(node, f"{type(op).__name__} -> {other.__name__}"):
                node.ops[place] = other()
        return node

    def visit_BinOp(self, node: ast.BinOp) -> ast.AST:
        self.generic_visit(node)
        other = SUMS.get(type(node.op))
        if other is not None and self._here(node, f"{type(node.op).__name__} -> {other.__name__}"):
            node.op = other()
        return node

    def visit_BoolOp(self, node: ast.BoolOp) -> ast.AST:
        self.generic_visit(node)
        if self._here(node, "and <-> or"):
            node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        return node

    def visit_UnaryOp(self, node: ast.UnaryOp) -> ast.AST:
        self.generic_visit(node)
        if isinstance(node.op, ast.Not) and self._here(node, "not dropped"):
            return node.operand
        return node

    def visit_IfExp(self, node: ast.IfExp) -> ast.AST:
        self.generic_visit(node)
        if self._here(node, "branches exchanged"):
            node.body, node.orelse = node.orelse, node.body
        return node

    def visit_Return(self, node: ast.Return) -> ast.AST:
        self.generic_visit(node)
        empty = node.value is None or (
            isinstance(node.value, ast.Constant) and not node.value.value
        )
        if not empty and self._here(node, "returns None"):
            node.value = ast.Constant(None)
        return node

    def visit_Constant(self, node: ast.Constant) -> ast.AST:
        value = node.value
        if isinstance(value, bool):
            changed: int | str = not value
        elif isinstance(value, int):
            changed = value + 1
        elif isinstance(value, str) and NUMBER.fullmatch(value):
            changed = f"1{value}" if value[0] != "-" else value[1:]
        else:
            return node
        if self._here(node, f"{value!r} -> {changed!r}"):
            return ast.copy_location(ast.Constant(changed), node)
        return node


def changes_of(source: str) -> list[Change]:
    """All ways in which a module can be changed."""
    walk = Changing()
    walk.visit(ast.parse(source))
    return walk.changes


def changed(source: str, wanted: int) -> ast.Module:
    """The module with the change of this number."""
    tree = ast.parse(source)
    Changing(wanted).visit(tree)
    return ast.fix_missing_locations(tree)
