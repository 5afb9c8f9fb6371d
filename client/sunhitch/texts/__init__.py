"""Texts for people, each made from a code and its parameters by one function."""

from collections.abc import Iterable
from functools import cache, lru_cache
from typing import TypeVar

from sunhitch.types.basis import CodedText, TextKind

from .templates import Parameter, Template, template
from .templates import table_of as table_of

T = TypeVar("T", bound=str)


class Text(str):
    """A text that knows the code and the parameters that it was made from.

    Attributes
    ----------
    code : str
        By which a front end finds its own template.
    parameters : dict
        Figures with their units in the names, names, and texts.
    kind : str
        Kind of the code.
    """

    code: str
    parameters: dict[str, Parameter]
    kind: TextKind

    def __new__(
        cls, text: str, code: str, parameters: dict[str, Parameter], kind: TextKind = "statement"
    ) -> "Text":
        """A text as it was made."""
        made = super().__new__(cls, text)
        made.code, made.parameters, made.kind = code, parameters, kind
        return made

    def __reduce__(self) -> tuple[type["Text"], tuple[str, str, dict[str, Parameter], TextKind]]:
        """As it was made, for other processes."""
        return Text, (str.__str__(self), self.code, self.parameters, self.kind)


def sentence(code: str, **parameters: Parameter) -> Text:
    """What is wrong and what would be right, in words.

    Parameters
    ----------
    code : str
        In the table of faults.
    **parameters : float or str or list of str
        Of its template; figures in the units of their names, names and texts.

    Raises
    ------
    KeyError
        If the table has no such code, or a parameter is missing.
    """
    return _filled("fault", code, parameters)


def phrase(code: str, **parameters: Parameter) -> Text:
    """Part of a sentence, which is told as a parameter of another; as `sentence`."""
    return _filled("phrase", code, parameters)


def load_case(code: str) -> Text:
    """Title of a load case, as it stands behind the title of a rule."""
    return _filled("load-case", code, {})


def statement(code: str, **parameters: Parameter) -> Text:
    """What an answer tells beside its figures; as `sentence`."""
    return _filled("statement", code, parameters)


def together(form: str, parts: Iterable[T]) -> T | Text:
    """Texts as one, with what stands between them.

    Parameters
    ----------
    form : str
        ``"and"``, ``"comma"``, ``"plus"``, ``"semicolon"`` or ``"space"``.
    parts : iterable of str
        Names and texts; empty ones are left out.
    """
    told = [one for one in parts if one]
    return told[0] if len(told) == 1 else statement(f"in-a-row-{form}", parts=[*told])


@cache
def _template_of(kind: TextKind, code: str) -> Template:
    return template(table_of(f"{kind}s")[code])


def _filled(kind: TextKind, code: str, given: dict[str, Parameter]) -> Text:
    plain = True
    for name, one in given.items():
        if not isinstance(one, str | list):
            given[name] = float(one) + 0.0  # no text tells a negative zero
        elif type(one) is not str:
            plain = False
    if plain:
        return _plain(kind, code, *given.items())
    return Text(_template_of(kind, code).filled(given), code, given, kind)


@lru_cache(maxsize=8192)
def _plain(kind: TextKind, code: str, *given: tuple[str, float | str]) -> Text:
    """A text whose parameters hold no texts: an answer tells the same one often."""
    parameters: dict[str, Parameter] = dict(given)
    return Text(_template_of(kind, code).filled(parameters), code, parameters, kind)


def coded(texts: Iterable[Text]) -> list[CodedText]:
    """Each text once, and the texts among its parameters, as answers and problems tell them."""
    found: dict[str, CodedText] = {}
    waiting = list(texts)[::-1]
    while waiting:
        one = waiting.pop()
        if one and one not in found:
            plain = str.__str__(one)
            found[plain] = CodedText(
                text=plain, kind=one.kind, code=one.code, parameters=one.parameters
            )
            for told in one.parameters.values():
                entries = told if isinstance(told, list) else [told]
                waiting += [inner for inner in entries if isinstance(inner, Text)]
    return list(found.values())
