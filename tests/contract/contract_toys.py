"""Small calculations that misbehave on demand, to see what the service makes of it."""

import math
import os
import signal
import time
from pathlib import Path
from typing import Annotated, Literal

from sunhitch.operations.operation import Operation
from sunhitch.report.layout import Page
from sunhitch.texts import Text
from sunhitch.types.base import Input
from sunhitch.types.check import Answer
from sunhitch.types.quantity import choice, count, label, listing, prose, quantity
from sunhitch_service.calculations.calculation import (
    AnyCalculation,
    Calculation,
    ComputingTime,
    Rendering,
)
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import ContradictionError, Fault


class Round(Input, tag_field="kind", tag="round", kw_only=True):
    """A disc."""

    radius_m: Annotated[float, quantity("m", 0.0, 10.0, "Radius.", 0.5)]


class Square(Input, tag_field="kind", tag="square", kw_only=True):
    """A square."""

    side_m: Annotated[float, quantity("m", 0.0, 10.0, "Side.", 0.5)]


class ToyRequest(Input, kw_only=True):
    """Shapes to add up."""

    name: Annotated[str, label("Name.", "first")]
    shapes: Annotated[list[Round | Square], listing(1, 20, "Shapes.")]
    copies: Annotated[int, count(1, 10, "How often each is there.", 2)] = 1
    size: Annotated[Literal["small", "large"], choice("Size.", "small")] = "small"
    height_m: Annotated[float, quantity("m", 0.0, 10.0, "Height.", 1.0)] | None = None


class ToyAnswer(Answer, kw_only=True):
    """Sum of the areas."""

    area_m2: Annotated[float, quantity("m²", 0.0, 1e6, "Area.", 0.25)]
    note: Annotated[str, prose("Name again.", "first")]


def _area(shape: Round | Square) -> float:
    return math.pi * shape.radius_m**2 if isinstance(shape, Round) else shape.side_m**2


def _answer(request: ToyRequest, area_m2: float) -> ToyAnswer:
    return ToyAnswer(
        **common(request, [], Assumptions(), []),
        area_m2=area_m2,
        note=request.name,
    )


def add_up(request: ToyRequest) -> ToyAnswer:
    """Area of all shapes; a large one must have a height."""
    faults: list[Fault] = []
    if request.size == "large" and request.height_m is None:
        needed = Text("A large one needs a height; give `height_m`.", "mend", {})
        faults.append(Fault("/height_m", needed))
    if request.copies == 7:
        seven = Text("Seven is never right; give 6 or 8.", "mend", {})
        faults.append(Fault("/copies", seven))
    if faults:
        raise ContradictionError(faults)
    return _answer(request, request.copies * sum(_area(shape) for shape in request.shapes))


def not_a_number(request: ToyRequest) -> ToyAnswer:
    """An answer that JSON cannot carry."""
    return _answer(request, math.nan)


def crash(request: ToyRequest) -> ToyAnswer:
    """A defect."""
    raise ZeroDivisionError(f"secret of {request.name}")


def linger(request: ToyRequest) -> ToyAnswer:
    """Takes as many seconds as the sum of its areas; leaves a mark at the path in its name."""
    seconds = sum(_area(shape) for shape in request.shapes)
    time.sleep(seconds)
    if request.name.startswith("/"):
        Path(request.name).write_text("done", "utf-8")
    return _answer(request, seconds)


def toil(request: ToyRequest) -> ToyAnswer:
    """Keeps the processor busy until there is a mark at the path in its name."""
    while not Path(request.name).exists():
        pass
    return _answer(request, 0.0)


def die_once(request: ToyRequest) -> ToyAnswer:
    """Kills its own process the first time; the mark at the path in its name says it did."""
    mark = Path(request.name)
    if not mark.exists():
        mark.write_text("died", "utf-8")
        os.kill(os.getpid(), signal.SIGKILL)
    return _answer(request, 1.0)


def die_always(request: ToyRequest) -> ToyAnswer:
    """Kills its own process, if it is to be large."""
    if request.size == "large":
        os.kill(os.getpid(), signal.SIGKILL)
    return _answer(request, 1.0)


def hoard(request: ToyRequest) -> ToyAnswer:
    """Holds as many hundreds of megabytes as the sum of its areas."""
    held = bytearray(int(1e8 * sum(_area(shape) for shape in request.shapes)))
    held[::4096] = b"x" * len(held[::4096])
    return _answer(request, float(len(held) > 0))


def _told(_page: Page, answer: ToyAnswer) -> list[str]:
    return [answer.note]


def _toy(name: str) -> Operation[ToyRequest, ToyAnswer]:
    return Operation(name, ToyRequest, ToyAnswer, f"Toy {name}", f"A toy that can {name}.", _told)


def drawn(request: ToyRequest, answer: ToyAnswer) -> str:
    """A picture."""
    side = answer.area_m2**0.5
    title = f"<title>{request.name}</title>"
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}">{title}</svg>'


def listed(request: ToyRequest, answer: ToyAnswer) -> str:
    """A table."""
    return f"name,area_m2\r\n{request.name},{answer.area_m2}\r\n"


DRAWINGS = (
    Rendering("image/svg+xml", "sketch", "A sketch.", drawn),
    Rendering("text/csv", "areas", "A table of areas.", listed),
)


def _none(_request: object) -> float:
    return 0.0


def _long(_request: object) -> float:
    return 500.0


def _endless(_request: object) -> float:
    return 1e9


SHORT, LONG, ENDLESS = (
    ComputingTime(expected_ms, "Give fewer `shapes`.") for expected_ms in (_none, _long, _endless)
)


def toys() -> tuple[AnyCalculation, ...]:
    """Toys as the service offers them."""
    return (
        Calculation(_toy("add-up"), add_up, SHORT, DRAWINGS),
        Calculation(_toy("not-a-number"), not_a_number, LONG),
        Calculation(_toy("crash"), crash, LONG),
        Calculation(_toy("linger"), linger, LONG),
        Calculation(_toy("toil"), toil, LONG),
        Calculation(_toy("die-once"), die_once, LONG),
        Calculation(_toy("die-always"), die_always, LONG),
        Calculation(_toy("hoard"), hoard, LONG),
        Calculation(_toy("too-much"), add_up, ENDLESS),
    )
