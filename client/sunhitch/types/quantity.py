"""Metadata for contract fields: unit, limits, description and example in one call.

Every number of the contract is declared as ``Annotated[float, quantity(...)]``, so that the
published schema, the decoder and the reader see the same unit and the same physical limits.
"""

from msgspec import Meta

NAMELIKE = r"^[^\u0000-\u001f\u007f-\u009f\ufffe\uffff]*$"
"""Text without control characters, which have no place in drawings, tables and logs (XML 1.0,
2.2, allows few of them and NUL in no way)."""


def quantity(
    unit: str,
    low: float,
    high: float,
    description: str,
    example: float,
) -> Meta:
    """Describe a real number with a unit.

    Parameters
    ----------
    unit : str
        Unit symbol, ``"1"`` for a ratio.
    low, high : float
        Smallest and largest value that makes physical sense, both allowed.
    description : str
        What the number is.
    example : float
        A typical value.

    Returns
    -------
    msgspec.Meta
        Constraint and documentation for ``Annotated``.
    """
    # As floats: of two equal descriptions `Annotated` keeps the first loaded, and 15 equals 15.0.
    return Meta(
        ge=float(low),
        le=float(high),
        description=description,
        examples=[float(example)],
        extra_json_schema={"x-unit": unit},
    )


def count(low: int, high: int, description: str, example: int) -> Meta:
    """Describe a whole number of things; arguments as in `quantity`."""
    return Meta(
        ge=low,
        le=high,
        description=description,
        examples=[example],
        extra_json_schema={"x-unit": "1"},
    )


def label(description: str, example: str, longest: int = 80) -> Meta:
    """Describe a short text on one line that must not be empty.

    Parameters
    ----------
    description, example : str
        What the text is, and a typical one.
    longest : int
        Largest number of characters.
    """
    return Meta(
        min_length=1,
        max_length=longest,
        pattern=NAMELIKE,
        description=description,
        examples=[example],
    )


def prose(description: str, example: str = "") -> Meta:
    """Describe a text written for people; it may be empty."""
    return Meta(description=description, examples=[example] if example else None)


def choice(description: str, example: str | int) -> Meta:
    """Describe a value out of a fixed set of words or numbers."""
    return Meta(description=description, examples=[example])


def listing(fewest: int, most: int, description: str) -> Meta:
    """Describe a list and how many entries it may have."""
    return Meta(min_length=fewest, max_length=most, description=description)
