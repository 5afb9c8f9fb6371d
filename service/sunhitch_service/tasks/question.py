"""A flat question from its Struct to its answer and JSON."""

from collections.abc import Collection

from sunhitch.codec import encode
from sunhitch.questions import BY_NAME
from sunhitch.types.base import Input
from sunhitch.types.quick.texts import FlatAnswer
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.quick.questions import ANSWERING
from sunhitch_service.quick.reading import located

from .problems import as_problem, refused_fields


def answer(
    name: str, asked: Input, parameters: Collection[str], coded: bool
) -> tuple[FlatAnswer, bytes]:
    """Answer a question by its name, in this process or in another one.

    The answer comes as JSON too, which cannot hold a number that is not finite, and may tell the
    codes of its texts. Faults that the engine finds stand at the parameters that were given.
    """
    try:
        found = ANSWERING[name].answer(asked)
    except ContradictionError as refusal:
        faults = located(BY_NAME[name], parameters, as_problem(refusal).errors)
        raise refused_fields(faults, contradictory=True) from refusal
    return found, encode(found, texts=coded)
