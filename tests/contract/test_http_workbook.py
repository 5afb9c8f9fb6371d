"""The shipped workbook, recalculated by a real LibreOffice against a running service."""

import json
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import pytest
from contract_serving import Served
from openpyxl import load_workbook

from outside_programs import place_of
from sunhitch.workbook import __main__ as command
from sunhitch.workbook.layout import EntryCell, Product, Reply, cells, placed

SHIPPED = Path(command.__file__).parent
FORMATS = ("ods", "xlsx")
needs_office = pytest.mark.needs_program("soffice", "python3-uno")


def recalculated(file: Path, profile: Path) -> dict[str, float | str]:
    """Cells of the first sheet after LibreOffice has recalculated it."""
    script = Path(__file__).with_name("libreoffice_cells.py")
    run = subprocess.run(
        [place_of("python3-uno"), str(script), place_of("soffice"), str(profile), str(file)],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    found: dict[str, float | str] = json.loads(run.stdout)
    return found


def expected(served: Served, values: dict[str, float | str]) -> dict[str, float | str | None]:
    """The sheet's answers asked directly, as JSON, in the sheet's order."""
    answers: dict[str, float | str | None] = {}
    for _, row in placed():
        if isinstance(row, Product):
            first, second = (float(values[key]) for key in row.factors)
            values[row.key] = first * second
        if isinstance(row, Reply):
            query = {name: values[key] for name, key in row.given.items()}
            fixed = dict(part.split("=") for part in row.fixed.split("&") if part)
            answer = served.http.get(
                f"/v1/quick/{row.question}", params={**query, **fixed, "field": row.field}
            )
            assert answer.status_code == 200, (row.key, answer.text)
            answers[row.key] = values[row.key] = answer.json()
    return answers


def entries() -> dict[str, float | str]:
    return {row.key: row.value for _, row in placed() if isinstance(row, EntryCell)}


@needs_office
@pytest.mark.parametrize("suffix", FORMATS)
def test_libreoffice_shows_what_the_service_answers(
    start: Callable[..., Served], tmp_path: Path, suffix: str
) -> None:
    served = start((), pool_workers=0)
    file = tmp_path / "sheet" / f"small-build.{suffix}"
    file.parent.mkdir()
    assert command.main([str(file), "--service", served.url]) == 0
    shown = recalculated(file, tmp_path / f"profile-{suffix}")
    answers = expected(served, entries())
    assert len(answers) > 30
    where = cells()
    for key, answer in answers.items():
        cell = shown[where[key]]
        if isinstance(answer, str):
            assert cell == answer, key
        else:
            # A sheet holds 15 digits and the text carries 12.
            assert cell == pytest.approx(answer, rel=1e-11, abs=0.0), key
    verdicts = {answer for key, answer in answers.items() if key.endswith("verdict")}
    worst = [word for word in ("fail", "not-assessed", "review", "pass") if word in verdicts]
    assert shown["B1"] == worst[0]


@needs_office
def test_libreoffice_shows_what_to_change(start: Callable[..., Served], tmp_path: Path) -> None:
    """An input out of range shows the service's words in the cells that need it, not a number."""
    served = start((), pool_workers=0)
    file = tmp_path / "sheet" / "small-build.xlsx"
    file.parent.mkdir()
    command.main([str(file), "--service", served.url])
    book = load_workbook(file)
    where = cells()
    book["Build"][where["lowest_ambient_c"]] = -90
    book.save(file)
    shown = recalculated(file, tmp_path / "profile")
    assert shown[where["cold_v"]] == (
        "Error: lowest_ambient_c: Expected a number from -60 to 40 °C; got `-90`."
    )
    assert shown[where["hot_cell_c"]] == pytest.approx(
        served.http.get("/v1/quick/cell-temperature?ambient_c=38&mounting_heat=open-gap").json()[
            "cell_c"
        ]
    )
    assert shown["B1"] == "mend the errors below"


def formulas_of(file: Path) -> list[str]:
    """Every text, value and formula of a workbook, in order."""
    if file.suffix == ".xlsx":
        book = load_workbook(file)
        rows = [row for sheet in book.worksheets for row in sheet.iter_rows(values_only=True)]
        return [str(cell) for row in rows for cell in row]
    with zipfile.ZipFile(file) as packed:
        content = ElementTree.fromstring(packed.read("content.xml"))  # noqa: S314 - our own file
    cells_ = content.iter("{urn:oasis:names:tc:opendocument:xmlns:table:1.0}table-cell")
    return ["".join(cell.itertext()) + str(sorted(cell.attrib.items())) for cell in cells_]


@pytest.mark.parametrize("suffix", FORMATS)
def test_the_shipped_workbook_is_what_the_script_builds(tmp_path: Path, suffix: str) -> None:
    fresh = tmp_path / f"small-build.{suffix}"
    assert command.main([str(fresh)]) == 0
    shipped = formulas_of(SHIPPED / fresh.name)
    assert len(shipped) > 300
    assert shipped == formulas_of(fresh), (
        "run: python -m sunhitch.workbook client/sunhitch/workbook/small-build.{xlsx,ods}"
    )


def test_formulas_stay_within_what_spreadsheets_take() -> None:
    """Excel takes 8192 characters a formula and 255 a text in it, and addresses of 2048."""
    book = load_workbook(SHIPPED / "small-build.xlsx")
    texts = [cell for row in book["Build"].iter_rows(values_only=True) for cell in row]
    found = [text for text in texts if isinstance(text, str) and text.startswith("=")]
    assert found
    for formula in found:
        assert len(formula) < 2048
        assert all(len(part) <= 255 for part in formula.split('"')[1::2])


def test_other_names_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as exit_:
        command.main(["build.pdf"])
    assert exit_.value.code == 2
    assert "end the name in .xlsx or .ods" in capsys.readouterr().err
