"""Changes that an engineer's slip would make, one at a time: what `.ci/mutate` tries.

A comparison turned or moved by its boundary, sum for difference, product for quotient, `min` for
`max`, a constant by a tenth or by one, `and` for `or`, a condition denied, a loop left out. Most
are cosmic-ray's. Shifts, types and `is None` are left alone: they fail at once or mean nothing. Of
tables, a figure by a tenth, and the verdict beyond a limit.
"""

import ast
import csv
import io
import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.operator import Example, Operator
from cosmic_ray.plugins import get_operator
from parso.python.tree import Name, Number
from parso.tree import NodeOrLeaf

BINARY = (
    "Add_Sub Sub_Add Mul_Div Div_Mul FloorDiv_Div Mod_FloorDiv Pow_Mul BitAnd_BitOr BitOr_BitAnd"
)
COMPARISON = "Lt_LtE Lt_Gt LtE_Lt LtE_GtE Gt_GtE Gt_Lt GtE_Gt GtE_LtE Eq_NotEq NotEq_Eq"
OTHERS = (
    "ReplaceUnaryOperator_Delete_USub ReplaceUnaryOperator_Delete_Not ReplaceTrueWithFalse"
    " ReplaceFalseWithTrue ReplaceAndWithOr ReplaceOrWithAnd AddNot ReplaceBreakWithContinue"
    " ReplaceContinueWithBreak ZeroIterationForLoop"
)
GUARDS = frozenset(["strict", "frozen", "slots", "kw_only", "order", "cache", "maxsize", "nogil"])
GUARDS |= {"gc", "forbid_unknown_fields"}
"""Arguments that guard against slips of the programmer, or say how something is compiled."""
OPPOSITES = {"min": "max", "minimum": "maximum", "ceil": "floor", "any": "all", "argmin": "argmax"}
OPPOSITES |= {b: a for a, b in OPPOSITES.items()}
TOLERANCE = re.compile(r"e-(0?[6-9]|\d\d)$", re.IGNORECASE)
"""Numbers that say how exact arithmetic is: a tenth more of it is no other rule."""
FIGURE = re.compile(r"-?\d+(\.\d*)?(e-?\d+)?")
NO_FIGURES = frozenset({"edition", "year", "unit", "clause"})
ANNOTATIONS = frozenset({"annassign", "tfpdef", "param"})
STARS = frozenset({"parameters", "param", "argument", "star_expr", "subscript"})
"""What a star is in that is no product: of names that only keywords give, or spread out."""


class SwapOpposites(Operator):
    """The smaller for the larger, up for down, any for all."""

    def mutation_positions(self, node: NodeOrLeaf) -> Iterator[tuple[object, object]]:
        """Where a function that has an opposite is called or handed on."""
        if isinstance(node, Name) and node.value in OPPOSITES and _is_read(node):
            yield node.start_pos, node.end_pos

    def mutate(self, node: Name, _index: int) -> NodeOrLeaf:
        """Name the opposite."""
        node.value = OPPOSITES[node.value]
        return node

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        """Required by the interface."""
        return (Example("min(a, b)", "max(a, b)"),)


class ShiftNumber(Operator):
    """A measure by a tenth, a count by one."""

    def mutation_positions(self, node: NodeOrLeaf) -> Iterator[tuple[object, object]]:
        """Where a number stands that is more than a tolerance."""
        if isinstance(node, Number) and not TOLERANCE.search(node.value):
            yield node.start_pos, node.end_pos

    def mutate(self, node: Number, _index: int) -> NodeOrLeaf:
        """Write the other number."""
        value = float(node.value.replace("_", ""))
        whole = node.value.replace("_", "").isdigit()
        other = int(value) + 1 if whole else value * 1.1 or 0.1
        return Number(f"{node.prefix}{other!r}", node.start_pos)

    @classmethod
    def examples(cls) -> tuple[Example, ...]:
        """Required by the interface."""
        return Example("x = 2", "x = 3"), Example("x = 2.0", "x = 2.2")


def _is_read(node: Name) -> bool:
    """Whether a name is a function that is used, not a member, an argument or an import."""
    parent = _parent(node)
    if parent.type == "trailer":
        return bool(parent.get_previous_sibling().get_code().strip() in ("np", "math"))
    return not (
        parent.type in ("import_from", "param", "expr_stmt", "funcdef")
        or (parent.type == "argument" and parent.children[0] is node)
    )


def _parent(node: NodeOrLeaf) -> Any:  # noqa: ANN401
    """What holds a node; parso has no types for what is in which."""
    return node.parent


def _operators() -> list[Operator]:
    names = [f"ReplaceBinaryOperator_{n}" for n in BINARY.split()]
    names += [f"ReplaceComparisonOperator_{n}" for n in COMPARISON.split()]
    found = [get_operator(f"core/{name}")() for name in (*names, *OTHERS.split())]
    return [*found, SwapOpposites(), ShiftNumber()]


def _is_annotation(node: NodeOrLeaf, position: tuple[int, int]) -> bool:
    """Whether what is changed belongs to a type."""
    above: Any = node
    while above.parent is not None:
        below, above = above, above.parent
        if above.type in ANNOTATIONS and (above.type != "param" or above.default is not below):
            return bool(above.type != "annassign" or position < above.children[-1].start_pos)
        if above.type == "funcdef" and above.annotation is below:
            return True
    return False


def _is_guard(node: NodeOrLeaf) -> bool:
    """Whether a value is that of an argument which only guards, or a star is no product."""
    parent = _parent(node)
    if node.type == "operator" and parent.type in STARS:
        return True
    return (
        parent is not None
        and parent.type == "argument"
        and parent.children[0].get_code().strip() in GUARDS
    )


def _is_rest_of_shape(node: NodeOrLeaf) -> bool:
    """Whether it is the -1 of `reshape`: other negative numbers ask for the same, others raise."""
    sign = node if node.type == "factor" else _parent(node)
    call = _parent(sign)
    if call is not None and call.type == "arglist":
        call = call.parent
    before = call.get_previous_sibling() if call is not None and call.type == "trailer" else None
    return sign.type == "factor" and before is not None and before.get_code() == ".reshape"


@dataclass(frozen=True)
class SourceChange:
    """One change of a source file, by the operator that makes it there."""

    path: Path
    operator: Operator
    occurrence: int
    line: int
    identity: str
    """The same as long as its line is, whatever changes elsewhere."""

    def after(self, before: str) -> str | None:
        """The source after it; nothing where that is the same, or no source."""
        changed = mutate_code(before, self.operator, self.occurrence)
        return changed if changed not in (None, before) and _is_source(changed) else None


def _is_source(text: str) -> bool:
    """Whether it is Python: a name assigned within a condition cannot be denied, for one."""
    try:
        ast.parse(text)
    except SyntaxError:
        return False
    return True


@dataclass(frozen=True)
class TableChange:
    """One other figure or verdict in a line of a table."""

    path: Path
    line: int
    becomes: str

    @property
    def identity(self) -> str:
        """What the line becomes."""
        return self.becomes

    def after(self, before: str) -> str:
        """The table with it."""
        lines = before.splitlines(keepends=True)
        lines[self.line - 1] = self.becomes
        return "".join(lines)


def table_changes_of(path: Path) -> Iterator[TableChange]:
    """Every change of a table, or of the verdicts of rules."""
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    if path.suffix == ".toml":
        for number, line in enumerate(lines, start=1):
            for was, becomes in (("fail", "review"), ("review", "fail")):
                if line == f'severity = "{was}"\n':
                    yield TableChange(path, number, f'severity = "{becomes}"\n')
        return
    columns = lines[1].strip().split(",")
    for number, line in enumerate(lines[2:], start=3):
        cells = next(csv.reader([line]))
        for at, (column, cell) in enumerate(zip(columns, cells, strict=True)):
            if FIGURE.fullmatch(cell) and column not in NO_FIGURES:
                other = [*cells[:at], f"{float(cell) * 1.1 or 0.1:.6g}", *cells[at + 1 :]]
                told = io.StringIO()
                csv.writer(told, lineterminator="\n").writerow(other)
                yield TableChange(path, number, told.getvalue())


def changes_of(path: Path) -> Iterator[SourceChange]:
    """Every change of a file."""
    source = path.read_text(encoding="utf-8")
    nodes, lines = list(ast_nodes(get_ast(source))), source.splitlines()
    seen: Counter[str] = Counter()
    for operator in _operators():
        places = [(node, at) for node in nodes for at, _ in operator.mutation_positions(node)]
        for occurrence, (node, at) in enumerate(places):
            if not (_is_annotation(node, at) or _is_guard(node) or _is_rest_of_shape(node)):
                one = f"{type(operator).__name__} {lines[at[0] - 1].strip()}"
                seen[one] += 1
                yield SourceChange(path, operator, occurrence, at[0], f"{one} {seen[one]}")


@dataclass(frozen=True)
class Reason:
    """Why no test has to notice a change of a line, or a branch that starts there."""

    file: str
    was: str
    why: str
    becomes: str | None = None


class Reasons:
    """Lines of `cannot-matter.toml`."""

    def __init__(self, path: Path) -> None:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        self.every = [Reason(file, **one) for file, entries in table.items() for one in entries]

    def of(self, file: str, was: str, becomes: str | None) -> str:
        """The reason, or nothing where none is given."""
        for one in self.every:
            if (one.file, one.was) == (file, was) and one.becomes in (None, becomes):
                return one.why
        return ""


__all__ = ["Reasons", "SourceChange", "TableChange", "changes_of", "table_changes_of"]
