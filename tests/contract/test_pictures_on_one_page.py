"""All pictures of all calculations on one page: neither it nor any of them minds the others."""

from base64 import b64encode
from collections.abc import Iterator
from hashlib import sha256

import pytest
from contract_browser import Watched, browser, needs_browser
from shipped import answered

from sunhitch.operations import OPERATIONS
from sunhitch_service.calculations import calculation_of
from sunhitch_service.drawing.dark import in_the_dark

PAGE = """<!DOCTYPE html>
<html lang="en"><head><title>Job 7</title>
<meta http-equiv="Content-Security-Policy"
      content="default-src 'none'; style-src 'sha256-STYLES'">
<style>
body { font: 17px/1.4 serif; color: #222; width: 900px; }
h1, .title { color: #703; letter-spacing: 1px; }
#arrow { stroke: #059; fill: none; }
.wire, td { stroke-width: 3; padding: 4px; }
#pictures { position: absolute; top: 600px; }
#pictures > svg { display: block; }
</style></head><body>
<main id="own">
<h1>Job 7</h1><p class="title">Two <b>panels</b>, <a href="#own">one</a> <code>12 V</code> bank.</p>
<table><tr><th>Cable</th><td class="wire">6 mm</td></tr></table>
<button>Order</button><input value="3">
<svg id="arrow" viewBox="0 0 20 8" width="60"><g><path d="M1 4h16m-4-3l4 3l-4 3"/>
<text class="title" x="1" y="8" font-size="3">flow</text></g></svg>
</main>
<section id="pictures"></section>
</body></html>"""
LOOKS = """root => [root, ...root.querySelectorAll('*')].map(one => {
  const looks = getComputedStyle(one);
  return one.localName + ':' + [...looks].map(name => looks.getPropertyValue(name)).join(';');
}).join('\\n')"""
"""Every property of every element, as the browser settles it."""
SHOW = "svgs => { document.getElementById('pictures').innerHTML = svgs.join('\\n'); }"


def pictures() -> dict[str, str]:
    """Every picture of every shipped request, light and dark."""
    found: dict[str, str] = {}
    for operation in OPERATIONS:
        request, answer = answered(operation)
        for one in calculation_of(operation).renderings:
            if one.media_type == "image/svg+xml":
                light = one.draw(request, answer)
                found[f"{operation.name} {one.view} light"] = light
                found[f"{operation.name} {one.view} dark"] = in_the_dark(light)
    return found


@pytest.fixture
def watched() -> Iterator[Watched]:
    """A page with styles of its own under a policy that admits nothing else."""
    styles = PAGE.partition("<style>")[2].partition("</style>")[0].encode()
    digest = b64encode(sha256(styles).digest()).decode()
    with browser() as opened:
        page = Watched(opened.new_page(viewport={"width": 1400, "height": 1100}))
        page.page.set_content(PAGE.replace("STYLES", digest))
        yield page


@needs_browser
def test_pictures_change_neither_the_page_nor_each_other(watched: Watched) -> None:
    page, every = watched.page, pictures()
    own, shown = page.locator("#own"), page.locator("#pictures > svg")
    page_alone = own.evaluate(LOOKS), own.screenshot()
    alone: dict[str, bytes] = {}
    blank = [f"{svg.partition('>')[0]}></svg>" for svg in every.values()]
    for place, (name, svg) in enumerate(every.items()):
        page.evaluate(SHOW, [*blank[:place], svg, *blank[place + 1 :]])
        alone[name] = shown.nth(place).screenshot()
    page.evaluate(SHOW, [*every.values()])
    assert (own.evaluate(LOOKS), own.screenshot()) == page_alone
    assert shown.count() == len(every) >= 30
    for place, name in enumerate(every):
        assert shown.nth(place).screenshot() == alone[name], name
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map(one => one.id)")
    assert sorted(ids) == ["arrow", "own", "pictures"]
    assert watched.complaints == []
    assert [one for one in watched.asked if not one.startswith("about:")] == []


@needs_browser
def test_a_picture_that_reaches_out_is_noticed(watched: Watched) -> None:
    """The comparison can fail: bare selectors and doubled ids are what it looks for."""
    own = watched.page.locator("#own")
    before = own.evaluate(LOOKS)
    watched.page.evaluate(SHOW, ['<svg><g id="arrow"/><text letter-spacing="9">x</text></svg>'])
    assert own.evaluate(LOOKS) == before
    assert watched.page.locator("#arrow").count() == 2
    watched.page.evaluate("() => document.styleSheets[0].insertRule('text, td { fill: red }')")
    assert own.evaluate(LOOKS) != before
