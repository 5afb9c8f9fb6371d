"""A picture changes nothing on the page that it stands on, and tells what it shows."""

from typing import Any
from xml.etree import ElementTree

import pytest
from shipped import answered

from sunhitch.operations import OPERATIONS
from sunhitch.operations.operation import Operation
from sunhitch_service.calculations import calculation_of

_SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_every_picture_can_stand_on_any_page(operation: Operation[Any, Any]) -> None:
    """Without sheets, classes, ids, scripts or addresses nothing reaches out of it or into it."""
    calculation = calculation_of(operation)
    request, answer = answered(operation)
    drawn = [one for one in calculation.renderings if one.media_type == "image/svg+xml"]
    assert drawn
    for one in drawn:
        root = ElementTree.fromstring(one.draw(request, answer))  # noqa: S314 - our own
        title, description, *_ = root
        assert (title.tag, description.tag) == (f"{_SVG}title", f"{_SVG}desc")
        assert title.text
        assert description.text
        for part in root.iter():
            assert part.tag.removeprefix(_SVG) not in {"style", "script", "link", "use", "image"}
            names = {name.lower() for name in part.attrib}
            assert not names & {"id", "class", "style", "href"}
            assert not [name for name in names if name.startswith("on")]
