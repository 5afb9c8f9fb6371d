"""A flat question from its Struct to its answer and JSON."""

from sunhitch.codec import encode
from sunhitch.types.base import Input
from sunhitch.types.quick.texts import FlatAnswer
from sunhitch_service.quick.questions import ANSWERING


def answer(given: tuple[str, Input, bool]) -> tuple[FlatAnswer, bytes]:
    """Answer a question by its name, in this process or in another one.

    The answer comes as JSON too, which cannot hold a number that is not finite, and may tell the
    codes of its texts.
    """
    name, asked, coded = given
    found = ANSWERING[name].answer(asked)
    return found, encode(found, texts=coded)
