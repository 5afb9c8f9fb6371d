"""Texts for people, each made from a code and its parameters by one function."""

import tomllib
from functools import cache
from importlib import resources

from .templates import Parameter, template


class Text(str):
    """A text that knows the code and the parameters that it was made from.

    Attributes
    ----------
    code : str
        By which a front end finds its own template.
    parameters : dict
        Figures with their units in the names, and names.
    """

    code: str
    parameters: dict[str, Parameter]

    def __new__(cls, text: str, code: str, parameters: dict[str, Parameter]) -> "Text":
        """A text as it was made."""
        made = super().__new__(cls, text)
        made.code, made.parameters = code, parameters
        return made


@cache
def table_of(name: str) -> dict[str, str]:
    """Templates by code: `faults`, `phrases` or `words`, read once from the file of that name."""
    file = resources.files("sunhitch.texts").joinpath(f"{name}.toml")
    return tomllib.loads(file.read_text("utf-8"))


def sentence(code: str, **parameters: Parameter) -> Text:
    """What is wrong and what would be right, in words.

    Parameters
    ----------
    code : str
        In the table of faults.
    **parameters : float or str
        Of its template; figures in the units of their names.

    Raises
    ------
    KeyError
        If the table has no such code, or a parameter is missing.
    """
    return _filled("faults", code, parameters)


def phrase(code: str, **parameters: Parameter) -> Text:
    """Part of a sentence, which is told as a parameter of another; as `sentence`."""
    return _filled("phrases", code, parameters)


def _filled(table: str, code: str, given: dict[str, Parameter]) -> Text:
    plain = {
        name: str.__str__(one) if isinstance(one, str) else float(one)
        for name, one in given.items()
    }
    return Text(template(table_of(table)[code]).filled(plain), code, plain)
