"""Data frames and notebooks."""

import sys
from base64 import b64decode
from html.parser import HTMLParser

import pytest
from IPython.core.formatters import HTMLFormatter
from service_in_memory import REQUEST, answer, change_shaded_iv, check

from sunhitch import Client, ServiceError, examples, notebook
from sunhitch.frames import frame
from sunhitch.operations import SHADED_IV, operation_of
from sunhitch.types.shade import Curve
from sunhitch_service.calculations.calculation import Rendering

VOID = {"br", "hr", "img", "input", "meta", "link"}


class Outline(HTMLParser):
    """Text by element, and whether every element is closed where it should be."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: list[tuple[str, str]] = []
        self.seen: list[str] = []

    def handle_starttag(self, tag: str, _attributes: object) -> None:
        self.seen.append(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append((self.open[-1], data))


def outline(text: str) -> Outline:
    parsed = Outline()
    parsed.feed(text)
    parsed.close()
    assert parsed.open == []
    return parsed


def test_a_notebook_shows_open_checks_worst_first_and_the_rest_in_words() -> None:
    shown = answer(
        check("a", "review", title="Second"),
        check("b", "fail", title="First", remedy="Use <larger> pads & wait."),
        check("c", "pass", title="Passing"),
    )
    parsed = outline(notebook.html(shown))
    cells = [text for tag, text in parsed.texts if tag == "td"]
    assert [cell for cell in cells if cell in ("First", "Second", "Passing")] == ["First", "Second"]
    assert "Use <larger> pads & wait." in cells
    assert ("strong", "✗ fail") in parsed.texts
    assert ("pre", operation_of(shown).text(shown, detail="short")) in parsed.texts
    assert not {"script", "link", "img"} & set(parsed.seen)


def test_a_passing_answer_needs_no_table() -> None:
    assert "table" not in outline(notebook.html(answer(check()))).seen


def test_the_extension_makes_answers_show_themselves() -> None:
    formatter = HTMLFormatter()

    class Shell:
        class display_formatter:  # noqa: N801
            formatters = {"text/html": formatter}

    shown = answer(check())
    assert formatter(shown) is None
    notebook.load_ipython_extension(Shell)
    assert formatter(shown) == notebook.html(shown)


def test_structs_become_rows() -> None:
    table = frame([check("a"), check("b", "fail", demand=None)])
    assert list(table["code"]) == ["a", "b"]
    assert list(table["basis"]) == ["bishop-1988"] * 2
    assert table["demand"].isna().tolist() == [False, True]


def test_answers_become_rows_with_dotted_columns() -> None:
    table = frame([answer(check()), answer(check("a", "fail"))])
    assert list(table["verdict"]) == ["pass", "fail"]
    assert list(table["maximum_power_point.power_w"]) == [44.2, 44.2]


def test_lists_side_by_side_become_columns() -> None:
    table = frame(Curve(voltage_v=[0.0, 10.0, 20.0], current_a=[6.4, 6.3, 0.0]))
    assert list(table.columns) == ["voltage_v", "current_a"]
    assert table.shape == (3, 2)


def test_without_pandas_the_way_to_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(ModuleNotFoundError, match="pip install pandas"):
        frame([check()])


DRAWING = '<svg xmlns="http://www.w3.org/2000/svg"><style>text { fill: red }</style></svg>'


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    rendering = Rendering("image/svg+xml", "plain", "Plain.", lambda *_: DRAWING)
    change_shaded_iv(monkeypatch, calculate=lambda _: answer(check("a", "review")))
    change_shaded_iv(monkeypatch, renderings=(rendering,))


@pytest.mark.usefixtures("drawn")
def test_show_adds_the_picture_apart_from_the_page() -> None:
    with Client.embedded() as client:
        shown = notebook.show(client, SHADED_IV, REQUEST)
    text = shown._repr_html_()
    parsed = outline(text)
    assert ("strong", "◐ review") in parsed.texts
    assert {"table", "img", "pre"} <= set(parsed.seen)
    assert "style" not in parsed.seen
    packed = text.split("data:image/svg+xml;base64,")[1].partition('"')[0]
    assert b64decode(packed).decode() == DRAWING
    assert str(shown) == operation_of(shown.answer).text(shown.answer)


@pytest.mark.usefixtures("drawn")
def test_show_does_without_a_picture_where_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    change_shaded_iv(monkeypatch, renderings=())
    with Client.embedded() as client:
        assert notebook.show(client, SHADED_IV, REQUEST).picture == ""
        with pytest.raises(ServiceError, match="406"):
            notebook.show(client, SHADED_IV, REQUEST, "cells")


def test_a_notebook_of_a_fleet_stays_small() -> None:
    """Thirty fit-outs that show themselves take at most 300 kB."""
    with Client.embedded() as client:
        shown = client.fit_out(examples.load("fit-out"))
    assert 30 * len(notebook.html(shown).encode()) <= 300_000
