"""Lines of a sheet of paper, each given or worked out of those above."""

import ast
import math
import operator
from collections.abc import Callable

from sunhitch.types.mount import WorkedLine

from .figures import row

_TWO: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: lambda dividend, divisor: dividend / divisor,
    ast.Pow: math.pow,
}
_CALLS: dict[str, Callable[[list[float]], float]] = {
    "sqrt": lambda of: math.sqrt(of[0]),
    "abs": lambda of: abs(of[0]),
    "min": min,
    "max": max,
}


class Paper:
    """Collects lines; what it knows is written down where a formula first needs it.

    Attributes
    ----------
    lines : list of WorkedLine
        In the order of writing.
    figures : dict of float
        What the request, tables or the engine give, by symbol.
    formulas : dict of callable
        What tells a formula, and may write lines before it, by symbol; where there is none, the
        table of symbols has one.
    """

    def __init__(self) -> None:
        self.lines: list[WorkedLine] = []
        self.figures: dict[str, float] = {}
        self.formulas: dict[str, Callable[[], str]] = {}
        self._values = {"pi": math.pi}

    def write(self, symbols: str) -> None:
        """Write down figures and formulas that are known, by their symbols in this order."""
        for symbol in symbols.split():
            self._value(symbol)

    def work(self, symbol: str, formula: str) -> None:
        """Write down a formula, and work it out, by a symbol of the table."""
        self.derive(symbol, formula, row("symbol", symbol)["unit"], row("symbol", symbol)["title"])

    def note(self, symbol: str, value: float, unit: str, name: str, formula: str = "") -> None:
        """Write down a figure whose symbol is numbered, or said for this sheet."""
        if symbol not in self._values:
            self._values[symbol] = float(value)
            self.lines.append(
                WorkedLine(symbol=symbol, name=name, value=float(value), unit=unit, formula=formula)
            )

    def derive(self, symbol: str, formula: str, unit: str, name: str) -> None:
        """Write down and work out a formula whose symbol is numbered, or said for this sheet."""
        self.note(symbol, self.worked(formula), unit, name, formula)

    def worked(self, formula: str) -> float:
        """Value of a formula, the lines that it needs written."""
        return self._worked(ast.parse(formula.replace("^", "**"), mode="eval").body)

    def _value(self, symbol: str) -> float:
        """Value of a symbol, its line written."""
        if symbol not in self._values:
            told = row("symbol", symbol)
            if symbol in self.figures:
                self.note(symbol, self.figures[symbol], told["unit"], told["title"])
            else:
                self.work(symbol, self.formulas.get(symbol, lambda: told["formula"])())
        return self._values[symbol]

    def _worked(self, node: ast.expr) -> float:
        if isinstance(node, ast.BinOp):
            return _TWO[type(node.op)](self._worked(node.left), self._worked(node.right))
        if isinstance(node, ast.UnaryOp):
            return -self._worked(node.operand)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            return _CALLS[node.func.id]([self._worked(one) for one in node.args])
        if isinstance(node, ast.Name):
            return self._value(node.id)
        return float(ast.literal_eval(node))
