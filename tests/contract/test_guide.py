"""The guide: every snippet gives what it says, every link leads somewhere, no page is long."""

import doctest
import json
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
from contract_serving import Served
from test_client_weather import epw

from sunhitch import Client
from sunhitch.cli import main
from sunhitch.examples import load, text
from sunhitch.operations import FIT_OUT, SHADED_IV
from sunhitch.operations.operation import Operation
from sunhitch_service.engine.rules.table import entries

pytestmark = pytest.mark.usefixtures("parts_kept")

GUIDE = Path(__file__).parents[2] / "service" / "sunhitch_service" / "guide"
PAGES = sorted(GUIDE.glob("*.md"))
EXAMPLES = Path(__file__).parents[2] / "client" / "sunhitch" / "examples"
WORDS_A_MINUTE = 200


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_snippets_give_what_they_say(page: Path) -> None:
    found = doctest.testfile(str(page), module_relative=False, encoding="utf-8")
    assert found.failed == 0


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_links_lead_somewhere(page: Path) -> None:
    for link in re.findall(r"\]\(([^)]+)\)", page.read_text("utf-8")):
        assert link == "codes.md" or (GUIDE / link).is_file(), link


@pytest.mark.parametrize("page", [page for page in PAGES if page.stem != "validation"], ids=str)
def test_a_page_is_read_in_eight_minutes(page: Path) -> None:
    assert len(page.read_text("utf-8").split()) < 8 * WORDS_A_MINUTE


@pytest.mark.parametrize(
    ("operation", "view", "picture"),
    [(FIT_OUT, "roof-plan", "roof-plan.svg"), (SHADED_IV, "", "curves.svg")],
)
def test_pictures_are_those_of_the_shipped_examples(
    operation: Operation[Any, Any], view: str, picture: str
) -> None:
    name = operation.name
    drawn = Client.embedded().call(operation, load(operation)).svg(view)
    assert drawn == (GUIDE / picture).read_text("utf-8"), (
        f"run: sunhitch {name} --svg" + (f" --view {view}" if view else "") + f" > …/{picture}"
    )


def lines_of(start: str) -> list[str]:
    """Lines of the guide and of README that begin with a program's name, without their remarks."""
    texts = [page.read_text("utf-8") for page in (*PAGES, GUIDE.parents[2] / "README.md")]
    blocks = [block for text in texts for block in re.findall(r"```\w+\n(.*?)```", text, re.DOTALL)]
    found = [line.partition(" #")[0] for block in blocks for line in block.splitlines()]
    return sorted({line.strip() for line in found if re.match(rf"(\.venv/bin/)?{start} ", line)})


@pytest.mark.parametrize("line", [line for line in lines_of("sunhitch") if " serve" not in line])
def test_commands_of_the_guide_work(
    line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("job.json").write_bytes(text(FIT_OUT))
    epw(Path("station.epw"), days=2)
    _, *words = shlex.split(line.partition(" > ")[0])
    assert main(words) in (0, 3, 4, 5)
    assert capsys.readouterr().out or any(Path(word).exists() for word in words)


def test_calls_by_curl_and_by_a_spreadsheet_work(service: Served) -> None:
    """Each with the address and headers that stand there; the body is the shipped example."""
    assert lines_of("curl")
    for line in lines_of("curl"):
        words = shlex.split(line)
        address = next(word for word in words if word.startswith("http"))
        heads = [words[at + 1] for at, word in enumerate(words) if word == "-H"]
        headers = dict(head.split(": ", 1) for head in heads)
        path = address.removeprefix("http://127.0.0.1:8000")
        body = EXAMPLES.joinpath(f"{path.removeprefix('/v1/')}.json").read_bytes()
        assert service.http.post(path, content=body, headers=headers).status_code == 200
    right = json.loads(EXAMPLES.joinpath("wire-sizing.json").read_bytes())
    wrong = service.http.post("/v1/wire-sizing", json={**right, "voltage_v": -5}).json()
    (fault,) = wrong["errors"]
    for member in ("pointer", "message", "code", "location"):
        assert f'"{member}": "{fault[member]}"' in (GUIDE / "http.md").read_text("utf-8")
    sheet = (GUIDE / "spreadsheet.md").read_text("utf-8")
    (address,) = re.findall(r'WEBSERVICE\("http://127\.0\.0\.1:8000([^"]+)"\)', sheet)
    assert float(service.http.get(address).text) > 22.9


def test_pages_codes_and_search_are_served(service: Served) -> None:
    """Every link of every page leads to a page; the search knows every page and code."""
    stems = [page.stem for page in PAGES if page.stem != "index"]
    addresses = ["/guide", "/guide/codes", *(f"/guide/{stem}" for stem in stems)]
    known = {one["address"] for one in service.http.get("/guide/search.json").json()}
    seen: set[str] = set()
    for address in [*addresses, *(f"/guide/codes/{code}" for code in entries())]:
        answer = service.http.get(address)
        assert answer.status_code == 200, address
        assert answer.headers["content-type"].startswith("text/html")
        seen |= set(re.findall(r'(?:href|src)="(/[^"#]*)', answer.text))
        assert any(one.startswith(address) for one in known) or address == "/guide/codes"
    for link in seen - set(addresses):
        assert service.http.get(link).status_code == 200, link
    assert service.http.get("/guide/codes/no-such-code").status_code == 404


def test_every_code_has_an_example_and_its_remedy_is_one_of_the_code() -> None:
    """`pytest -p guide_examples tests/unit …` writes them anew."""
    examples = json.loads((GUIDE / "examples.json").read_text("utf-8"))
    assert set(examples) == set(entries())
    for code, seen in examples.items():
        known = [
            "".join(re.escape(text) + (".+" if name else "") for text, name, _ in remedy.parts)
            for remedy in entries()[code].remedies.values()
        ]
        told = seen["remedy"]
        assert (seen["verdict"] == "pass") == (not told), code
        assert not told or any(re.search(one, told, re.DOTALL) for one in known), (code, told)
