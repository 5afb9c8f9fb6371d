"""A flat question from its Struct to its answer and JSON."""

from sunhitch.codec import encode
from sunhitch.types.base import Input, Output
from sunhitch_service.quick.questions import BY_NAME


def answer(given: tuple[str, Input]) -> tuple[Output, bytes]:
    """Answer a question by its name, in this process or in another one.

    The answer comes as JSON too, which cannot hold a number that is not finite.
    """
    name, asked = given
    found: Output = BY_NAME[name].answer(asked)
    return found, encode(found)
