"""The shipped workbook, recalculated by a real LibreOffice against a running service."""

import json
import subprocess
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pypdfium2
import pytest
from contract_serving import Served
from openpyxl import load_workbook

from outside_programs import place_of
from sunhitch.questions import BY_NAME, described
from sunhitch.workbook import __main__ as command
from sunhitch.workbook.formulas import places
from sunhitch.workbook.layout import (
    ADDRESS,
    ENTRIES,
    KEY,
    QUESTIONS,
    Asked,
    EntryCell,
    Product,
    taken,
)
from sunhitch_service.http.keys import make_key
from sunhitch_service.quick.questions import ANSWERING
from sunhitch_service.quick.reading import read

SHIPPED = Path(command.__file__).parent
FORMATS = ("ods", "xlsx")
needs_office = pytest.mark.needs_program("soffice", "python3-uno")
ROWS = [row for rows in ENTRIES.values() for row in rows]
CHANGED = [row for row in ROWS if isinstance(row, EntryCell) and row.key not in (ADDRESS, KEY)]
DECISIVE = {
    **{"p_mp_w": 116.0, "v_mp_v": 19.4, "i_mp_a": 6.05, "v_oc_v": 23.2, "i_sc_a": 6.5},
    **{"max_series_fuse_a": 6.0, "max_system_voltage_v": 40.0, "max_input_voltage_v": 50.0},
    **{"max_input_short_circuit_a": 12.0, "fault_current_a": 20_000.0, "battery_v": 5.0},
    **{"charge_voltage_v": 30.0, "roof_length_m": 1.3, "roof_height_m": 0.8, "rested_h": 20.0},
}
"""Changes of nameplates that still fit together, and of limits that then decide."""
Change = tuple[str, str, float | str]


class Shown:
    """A workbook after LibreOffice has recalculated it, at first and after each change alone."""

    def __init__(self, served: Served, folder: Path, suffix: str, locale: str) -> None:
        folder.mkdir()
        self.file = folder / f"small-build.{suffix}"
        self.pdf = folder / "small-build.pdf"
        self._profile, self._locale = folder.with_name(f"profile-{folder.name}"), locale
        assert command.main([str(self.file), "--service", served.url]) == 0

    def after(self, *changes: Change) -> list[dict[str, float | str]]:
        script = Path(__file__).with_name("libreoffice_cells.py")
        programs = place_of("python3-uno"), str(script), place_of("soffice")
        run = subprocess.run(
            [*programs, str(self._profile), str(self.file), self._locale, str(self.pdf)],
            input=json.dumps(changes),
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        assert run.returncode == 0, run.stderr
        found: list[dict[str, float | str]] = json.loads(run.stdout)
        return found


def cell(key: str) -> str:
    return ".".join(places()[key])


def answers(values: Mapping[str, float | str]) -> dict[str, Any]:
    """The sheet's answers asked of the engine, in the sheet's order."""
    known: dict[str, Any] = dict(values)
    for row in ROWS:
        if isinstance(row, Product):
            known[row.key] = float(known[row.factors[0]]) * float(known[row.factors[1]])
    found: dict[str, Any] = {}
    for asked in QUESTIONS:
        query = {
            name: [f"{known[key]:.15g}" if isinstance(known[key], float) else known[key]]
            for name, key in asked.given.items()
        }
        query |= {name: [word] for name, word in asked.fixed.items()}
        question = BY_NAME[asked.question.name]
        answer = ANSWERING[question.name].answer(read(question, query))
        for figure in asked.figures:
            found[figure.key] = known[figure.key] = getattr(answer, figure.field)
    return found


def entries() -> dict[str, float | str]:
    return {row.key: row.value for row in ROWS if isinstance(row, EntryCell)}


def other(row: EntryCell) -> float | str:
    """Something else that an entry may be."""
    takes = taken(row.key)
    assert takes is not None
    if takes.words:
        place = takes.words.index(str(row.value))
        return takes.words[(place + 1) % len(takes.words)]
    if row.key in DECISIVE:
        return DECISIVE[row.key]
    value = float(row.value)
    more = value + 1.0 if takes.whole else value * 1.13
    return more if takes.low <= more <= takes.high else value * 0.9


def compared(shown: Mapping[str, float | str], expected: Mapping[str, Any]) -> None:
    for key, answer in expected.items():
        told = shown[cell(key)]
        if isinstance(answer, str) or answer is None:
            assert told == (answer or "none"), key
        else:
            # A sheet holds 15 digits and the text carries 12.
            assert told == pytest.approx(answer, rel=1e-10, abs=1e-300), key
    verdicts = {answer for key, answer in expected.items() if key.endswith("verdict")}
    worst = [word for word in ("fail", "not-assessed", "review", "pass") if word in verdicts]
    assert shown["Inputs.B1"] == shown["Answers.B1"] == worst[0]


@needs_office
def test_every_input_reaches_every_answer_that_depends_on_it(
    start: Callable[..., Served], tmp_path: Path
) -> None:
    """Each input cell is changed alone; every answer cell is what the service says then."""
    shown = Shown(start((), pool_workers=0), tmp_path / "sheet", "xlsx", "en-US")
    changes = [(row.key, other(row)) for row in CHANGED]
    changes += [("hottest_c", 50.0)]
    told = shown.after(*((*places()[key], value) for key, value in changes))
    compared(told[0], answers(entries()))
    for (key, value), after in zip(changes, told[1:], strict=True):
        expected = answers(entries() | {key: value})
        asked = {name for name in told[0] if name.startswith("Requests.B")}
        assert any(after[name] != told[0][name] for name in asked), f"{key} reaches nothing"
        compared(after, expected)
    assert (told[0][cell("pv_size")], told[-1][cell("pv_size")]) == ("12 AWG", "8 AWG")


@needs_office
@pytest.mark.parametrize(("suffix", "locale"), [("ods", "de-DE"), ("xlsx", "fr-FR")])
def test_it_works_where_commas_are_decimal_with_a_key_and_prints_on_two_pages(
    start: Callable[..., Served], tmp_path: Path, suffix: str, locale: str
) -> None:
    key, entry = make_key("shop")
    served = start((), pool_workers=0, keys_required=True, query_keys=True, api_keys=[entry])
    shown = Shown(served, tmp_path / "sheet", suffix, locale)
    without, told = shown.after((*places()[KEY], key))
    assert without["Answers.B1"] == "mend the errors"
    assert str(without["Answers.F5"]).startswith("Error: Unauthorised. Send a key")
    compared(told, answers(entries()))
    pages = pypdfium2.PdfDocument(shown.pdf)
    first, second = (pages[n].get_textpage().get_text_range() for n in (0, 1))
    pages.close()
    assert "Back of a panel, measured" in first
    assert "Cold morning" in second
    assert "Short-circuit current in strong sun" in second


@needs_office
def test_what_is_left_empty_is_assumed_and_what_is_wrong_is_told(
    start: Callable[..., Served], tmp_path: Path
) -> None:
    served = start((), pool_workers=0)
    shown = Shown(served, tmp_path / "sheet", "ods", "en-US")
    gamma, coldest = places()["gamma_pmp_fraction_per_c"], places()["lowest_ambient_c"]
    address = places()[ADDRESS]
    _, empty, wrong, slash = shown.after(
        (*gamma, ""), (*coldest, -90.0), (*address, f"{served.url}/")
    )
    hot = [asked.question.name for asked in QUESTIONS].index("hot-vmp") + 2
    assert "gamma_pmp_fraction_per_c = -0.0045" in str(empty[f"Assumed.B{hot}"])
    row = int(cell("cold_v").rpartition("B")[2])
    assert wrong[f"Answers.B{row}"] == "Error"
    assert wrong[f"Answers.F{row}"] == (
        "Error: lowest_ambient_c: Expected a number from -60 to 40 °C; got `-90`."
    )
    assert wrong["Answers.B1"] == "mend the errors"
    assert wrong[cell("hot_cell_c")] == pytest.approx(answers(entries())["hot_cell_c"])
    compared(slash, answers(entries()))


@pytest.mark.parametrize("asked", QUESTIONS, ids=lambda one: one.title)
def test_every_parameter_is_a_cell_or_left_to_the_service_on_purpose(asked: Asked) -> None:
    left = asked.left.split()
    told = [*asked.given, *asked.fixed, *left]
    assert sorted(told) == sorted(described(asked.question.asked))
    apart = {"current_a", "i_sc_a", "controller_output_a", "strings_in_parallel"}
    apart |= {"max_series_fuse_a", "fault_current_a", "hot_cell_c"}
    cells_ = {row.key for row in ROWS} - apart
    assert not cells_ & set(left), "a cell of that name would not reach it"


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


def test_entries_are_held_to_what_the_questions_take() -> None:
    book = load_workbook(SHIPPED / "small-build.xlsx")
    held = {str(one.sqref): one for one in book["Inputs"].data_validations.dataValidation}
    volts, cells_in_series = (held[places()[key][1]] for key in ("v_oc_v", "cells_in_series"))
    assert (volts.type, volts.formula1, volts.formula2) == ("decimal", "0.1", "600")
    assert (cells_in_series.type, cells_in_series.formula2) == ("whole", "200")
    rules = held[places()["rules"][1]]
    assert set(rules.formula1.strip('"').split(",")) == {"iec", "nec-2017", "nec-2020", "nec-2023"}
    assert len(held) == len(CHANGED)


def test_formulas_stay_within_what_spreadsheets_take() -> None:
    """Excel takes 8192 characters a formula and 255 a text in it, and addresses of 2048."""
    book = load_workbook(SHIPPED / "small-build.xlsx")
    texts = [cell for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row]
    found = [text for text in texts if isinstance(text, str) and text.startswith("=")]
    assert len([text for text in found if "WEBSERVICE" in text]) == len(QUESTIONS)
    for formula in found:
        assert len(formula) < 4096
        assert all(len(part) <= 255 for part in formula.split('"')[1::2])


def test_other_names_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as exit_:
        command.main(["build.pdf"])
    assert exit_.value.code == 2
    assert "end the name in .xlsx or .ods" in capsys.readouterr().err
