"""Pictures out of drawings: PNG with the text in it, the same on every machine."""

import ast
import shutil
import struct
import sys
import zlib
from html import escape
from pathlib import Path
from xml.etree import ElementTree

import fontpkg
import pytest
import resvg_py
from plausible import light_example
from service_in_memory import change_shaded_iv

from sunhitch import Client, pictures
from sunhitch.operations import SHADED_IV
from sunhitch_service import drawing
from sunhitch_service.calculations import calculations
from sunhitch_service.calculations.calculation import Rendering

SQUARE = '<svg xmlns="http://www.w3.org/2000/svg" width="30" height="20">{}</svg>'
BLACK = '<rect x="10" width="5" height="20"/>'
WORD = "Ω²"
EXAMPLES = Path(pictures.__file__).parent / "examples"


def size_of(png: bytes) -> tuple[int, int]:
    """Width and height by the header (ISO/IEC 15948, 11.2.1)."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def pixels_of(png: bytes) -> bytes:
    """Content of all image chunks, unpacked (ISO/IEC 15948, 11.2.3)."""
    place, packed = 8, b""
    while place < len(png):
        (length,) = struct.unpack(">I", png[place : place + 4])
        if png[place + 4 : place + 8] == b"IDAT":
            packed += png[place + 8 : place + 8 + length]
        place += 12 + length
    return zlib.decompress(packed)


def test_a_drawing_becomes_a_picture_on_white() -> None:
    blank = pictures.png(SQUARE.format(""))
    assert size_of(blank) == (60, 40)
    assert size_of(pictures.png(SQUARE.format(""), zoom=1.0)) == (30, 20)
    assert pixels_of(pictures.png(SQUARE.format(BLACK))) != pixels_of(blank)


def written(text: str, **attributes: str) -> bytes:
    """A picture of one text."""
    given = "".join(f' {name.replace("_", "-")}="{value}"' for name, value in attributes.items())
    return pictures.png(SQUARE.format(f'<text x="2" y="15" font-size="12"{given}>{text}</text>'))


def test_text_is_in_the_picture() -> None:
    assert written(WORD) != written("")


@pytest.fixture
def machine_with_fonts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> str:
    """An SVG whose text looks otherwise where the machine's own fonts are used."""
    machines = tmp_path / "fonts"
    machines.mkdir()
    shutil.copy(fontpkg.path("Arimo", style="italic"), machines)
    config = tmp_path / "fonts.conf"
    config.write_text(f"<fontconfig><dir>{machines}</dir></fontconfig>", "utf-8")
    slanted = SQUARE.format('<text y="15" font-family="Arimo" font-style="italic">mm</text>')
    before = pictures.png(slanted)
    monkeypatch.setenv("FONTCONFIG_FILE", str(config))
    theirs = resvg_py.svg_to_bytes(svg_string=slanted, zoom=2.0, background="#ffffff")
    assert theirs != before, "the machine's font is not found: this test proves nothing"
    return slanted


def test_fonts_of_the_machine_change_nothing(
    machine_with_fonts: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    among_fonts = pictures.png(machine_with_fonts)
    monkeypatch.setenv("FONTCONFIG_FILE", "/nowhere")
    assert pictures.png(machine_with_fonts) == among_fonts


@pytest.mark.parametrize(
    "family",
    ["Arial", "'Helvetica Neue', Arial, sans-serif", "unheard of", "monospace", "serif", "cursive"],
)
def test_every_family_is_written_in_the_font_that_is_brought(family: str) -> None:
    assert written(WORD, font_family=family) == written(WORD)


def test_every_weight_that_drawings_use_is_written_as_its_own() -> None:
    assert (
        len({written("M"), written("M", font_weight="600"), written("M", font_weight="700")}) == 3
    )


def characters_of_drawings() -> set[str]:
    """All that drawings of short examples and the text in the modules that draw them hold."""
    found: set[str] = set()
    with Client.embedded() as client:
        for record in calculations():
            answer = client.call(record.operation, light_example(record.operation))
            for one in record.renderings:
                if one.media_type == "image/svg+xml":
                    svg = answer.svg(one.view)
                    found.update("".join(ElementTree.fromstring(svg).itertext()))  # noqa: S314
    for module in Path(drawing.__file__).parent.glob("*.py"):
        if module.stem not in ("sheets", "tables"):  # HTML and spreadsheets
            tree = ast.walk(ast.parse(module.read_text("utf-8")))
            texts = (one.value for one in tree if isinstance(one, ast.Constant))
            found.update("".join(text for text in texts if isinstance(text, str)))
    return {one for one in found if one.isprintable() and not one.isspace()}


def test_the_font_holds_every_character_of_the_drawings() -> None:
    box = written("\U0010fffd")
    characters = characters_of_drawings() | set("Ω°²³×−±≥≤·…–√")  # units and signs of other texts
    assert len(characters) > 80
    assert box != written("")
    assert {one for one in characters if written(escape(one)) == box} == set()


@pytest.mark.parametrize("package", ["resvg_py", "fontpkg"])
def test_what_is_missing_is_named(package: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, package, None)
    with pytest.raises(ModuleNotFoundError, match=rf"{package}.*sunhitch\[pictures\]"):
        pictures.png(SQUARE.format(BLACK))


def test_answers_are_saved_as_png(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    drawing = Rendering("image/svg+xml", "plain", "A bar.", lambda *_: SQUARE.format(BLACK))
    change_shaded_iv(monkeypatch, renderings=(drawing,))
    with Client.embedded() as client:
        answer = client.call(SHADED_IV, (EXAMPLES / "shaded-iv.json").read_bytes())
    answer.save(tmp_path / "bar.png")
    assert size_of((tmp_path / "bar.png").read_bytes()) == (60, 40)
