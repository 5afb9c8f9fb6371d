"""Pictures out of drawings: PNG with the text in it, and plain words where one cannot be made."""

import struct
import sys
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from sunhitch import Client, pictures
from sunhitch.operations import SHADED_IV
from sunhitch_service.renderings import RENDERINGS, Rendering

SQUARE = '<svg xmlns="http://www.w3.org/2000/svg" width="30" height="20">{}</svg>'
BLACK = '<rect x="10" width="5" height="20"/>'
WORD = '<text x="2" y="15" font-size="12">Ω²</text>'


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


def test_text_is_in_the_picture() -> None:
    assert pixels_of(pictures.png(SQUARE.format(WORD))) != pixels_of(
        pictures.png(SQUARE.format(""))
    )


@pytest.fixture
def fontless(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A machine on which no text leaves a trace."""
    import resvg_py

    real = resvg_py.svg_to_bytes
    pictures._writes.cache_clear()
    monkeypatch.setattr(
        resvg_py, "svg_to_bytes", lambda **given: real(**given, skip_system_fonts=True)
    )
    yield
    pictures._writes.cache_clear()


@pytest.mark.usefixtures("fontless")
def test_a_picture_without_its_text_is_refused() -> None:
    with pytest.raises(pictures.NoFontError, match="fonts-dejavu-core"):
        pictures.png(SQUARE.format(WORD))


def test_what_is_missing_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    with pytest.raises(ModuleNotFoundError, match=r"sunhitch\[pictures\]"):
        pictures.png(SQUARE.format(BLACK))


def test_answers_are_saved_as_png(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    drawing = Rendering("image/svg+xml", "plain", "A bar.", lambda *_: SQUARE.format(BLACK))
    monkeypatch.setitem(RENDERINGS, "shaded-iv", (drawing,))
    example = Path(pictures.__file__).parent / "examples" / "shaded-iv.json"
    with Client.embedded() as client:
        client.save(tmp_path / "bar.png", SHADED_IV, example.read_bytes())
    assert size_of((tmp_path / "bar.png").read_bytes()) == (60, 40)
