"""Lines of a sheet of paper, each given or worked out of those above."""

import ast
import math
from collections.abc import Callable

from sunhitch.types.mount import WorkedLine

from .figures import row

_TWO: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: lambda one, other: one + other,
    ast.Sub: lambda one, other: one - other,
    ast.Mult: lambda one, other: one * other,
    ast.Div: lambda one, other: one / other,
    ast.Pow: math.pow,
}
_CALLS: dict[str, Callable[[list[float]], float]] = {
    "sqrt": lambda of: math.sqrt(of[0]),
    "abs": lambda of: abs(of[0]),
    "min": min,
    "max": max,
}


class Paper:
    """Collects lines.

    Attributes
    ----------
    lines : list of WorkedLine
        In the order of writing.
    """

    def __init__(self) -> None:
        self.lines: list[WorkedLine] = []
        self._values = {"pi": math.pi}

    def __contains__(self, symbol: str) -> bool:
        return symbol in self._values

    def given(self, **values: float) -> None:
        """Write down figures that the request, a table or the engine gives, by their symbols."""
        for symbol, value in values.items():
            told = row("symbol", symbol)
            self.note(symbol, value, told["unit"], told["title"])

    def work(self, **formulas: str) -> None:
        """Write down formulas, and work them out, each by its symbol."""
        for symbol, formula in formulas.items():
            told = row("symbol", symbol)
            self.derive(symbol, formula, told["unit"], told["title"])

    def note(self, symbol: str, value: float, unit: str, name: str) -> None:
        """Write down a figure whose symbol is numbered, or said for this sheet."""
        self._write(symbol, float(value), unit, name, "")

    def derive(self, symbol: str, formula: str, unit: str, name: str) -> None:
        """Write down and work out a formula whose symbol is numbered, or said for this sheet."""
        value = self._worked(ast.parse(formula.replace("^", "**"), mode="eval").body)
        self._write(symbol, value, unit, name, formula)

    def _write(self, symbol: str, value: float, unit: str, name: str, formula: str) -> None:
        if symbol not in self._values:
            self._values[symbol] = value
            self.lines.append(
                WorkedLine(symbol=symbol, name=name, value=value, unit=unit, formula=formula)
            )

    def _worked(self, node: ast.expr) -> float:
        if isinstance(node, ast.BinOp):
            return _TWO[type(node.op)](self._worked(node.left), self._worked(node.right))
        if isinstance(node, ast.UnaryOp):
            return -self._worked(node.operand)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            return _CALLS[node.func.id]([self._worked(one) for one in node.args])
        if isinstance(node, ast.Name):
            return self._values[node.id]
        return float(ast.literal_eval(node))
