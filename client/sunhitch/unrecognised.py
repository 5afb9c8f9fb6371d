"""Words that a newer service uses and this version does not know."""


class Unrecognised(str):
    """A word out of a fixed set that this version does not know; otherwise an ordinary text.

    Examples
    --------
    >>> unknown = [one for one in answer.checks if isinstance(one.verdict, Unrecognised)]
    ... # doctest: +SKIP
    """

    __slots__ = ()
