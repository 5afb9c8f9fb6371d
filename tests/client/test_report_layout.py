"""Text for people: figures, both systems of units, wrapping, tables, colour."""

import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunhitch.report.amounts import (
    at_least,
    at_most,
    beside,
    both,
    figure,
    near_limit,
    percent,
    speed_limit,
)
from sunhitch.report.layout import Page, page_for

ANSI = re.compile(r"\x1b\[[0-9;]*m")


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0.0, "0"),
        (83.13, "83.1"),
        (0.30049, "0.3"),
        (12.0, "12"),
        (-1.256, "-1.26"),
        (99.97, "100"),
        (4321.6, "4322"),
        (0.000123, "0.000123"),
        (1e-12, "0"),
    ],
)
def test_figures_have_three_significant_digits_and_no_exponent(value: float, shown: str) -> None:
    assert figure(value) == shown


@given(st.floats(1e-6, 1e9))
def test_figures_are_within_half_a_unit_of_the_third_digit(value: float) -> None:
    assert float(figure(value)) == pytest.approx(value, rel=5.01e-3)


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (1.2, "m", "1.2 m (3 ft 11 1/4 in)"),
        (3.048, "m", "3.05 m (10 ft)"),
        (0.0254, "m", "0.0254 m (1 in)"),
        (-0.2, "m", "-0.2 m (-7 7/8 in)"),
        (0.0, "m", "0 m (0 in)"),
        (100.0, "N", "100 N (22.5 lbf)"),
        (1500.0, "Pa", "1500 Pa (31.3 psf)"),
        (68947.6, "Pa", "68.9 kPa (10 psi)"),
        (342260.0, "Wh", "342 kWh"),
        (-44482.2, "N", "-44.5 kN (-10000 lbf)"),
        (31.2928, "m/s", "31.3 m/s (113 km/h, 70 mph)"),
        (-40.0, "°C", "-40 °C (-40 °F)"),
        (10.0, "K", "10 K (18 °F)"),
        (1.0, "kg", "1 kg (2.2 lb)"),
        (83.13, "V", "83.1 V"),
        (1.4, "1", "1.4"),
        (1.4, "", "1.4"),
    ],
)
def test_quantities_stand_in_both_systems(value: float, unit: str, shown: str) -> None:
    assert both(value, unit) == shown


def test_shares_stand_in_percent() -> None:
    assert percent(0.8312) == "83.1 %"
    assert percent(1e9) == "> 100000000 %"


@pytest.mark.parametrize(
    ("value", "shown"),
    [(54.044, "54.1"), (14.4, "14.4"), (20.0, "20"), (16.01, "16.1"), (4000.0, "4000"), (0.0, "0")],
)
def test_what_a_part_must_bear_is_rounded_up(value: float, shown: str) -> None:
    assert at_least(value) == shown


@given(st.floats(1e-3, 1e6))
def test_what_a_part_must_bear_is_never_less_than_asked(value: float) -> None:
    assert value <= float(at_least(value)) * (1 + 1e-9) <= value * (1 + 1.01e-2)
    assert value * (1 - 1.01e-2) <= float(at_most(value)) * (1 + 1e-9) <= value * (1 + 2e-9)


@given(st.floats(0.1, 60.0))
def test_speed_limits_are_rounded_down_in_every_unit(speed_m_s: float) -> None:
    m_s, km_per_h, mph = map(float, re.findall(r"[\d.]+(?= )", speed_limit(speed_m_s)))
    for shown, exact, step in (
        (m_s, speed_m_s, 0.1),
        (km_per_h, speed_m_s * 3.6, 1.0),
        (mph, speed_m_s / 0.44704, 1.0),
    ):
        assert exact - step < shown <= exact + 1e-6


WORDS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P")), min_size=1, max_size=40)


@given(st.lists(WORDS, max_size=60), st.integers(60, 100))
def test_paragraphs_and_lists_stay_on_the_page_and_keep_every_word(
    words: list[str], width: int
) -> None:
    text = " ".join(words)
    lines = Page(width).bullets([text])
    assert all(len(line) <= width for line in lines)
    assert "".join("".join(lines).split()).removeprefix("-") == "".join(text.split())


def test_tables_line_up_and_numbers_stand_right() -> None:
    lines = Page().table(
        ("Panel", "Power", "Note"), [("left", "9.5 W", "a"), ("rear", "110 W", "")]
    )
    assert lines == [
        "  Panel  Power  Note",
        "  left   9.5 W  a",
        "  rear   110 W",
    ]


def test_columns_tell_of_each_item_what_stands_by_their_name() -> None:
    told = {"Word": str.upper, "Letters": lambda word: str(len(word))}
    lines = Page().columns("words", ["a", "abc"], told)
    assert [line.split() for line in lines] == [
        [],
        ["WORDS"],
        ["Word", "Letters"],
        ["A", "1"],
        ["ABC", "3"],
    ]
    assert Page().columns("", ["a", "abc"], told) == lines[2:]
    assert Page().columns("words", [], told) == []


def test_tables_wrap_their_last_column_under_itself() -> None:
    lines = Page(60).table(("No.", "Place"), [("F1", "at the battery's positive post " * 3)])
    assert all(len(line) <= 60 for line in lines)
    assert all(line.startswith("       ") for line in lines[2:])


def test_long_names_do_not_push_a_table_off_the_page() -> None:
    lines = Page().table(("Name", "Power"), [("n" * 80, "110 W")])
    assert all(len(line) <= 100 for line in lines)


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "80")
    return monkeypatch


def test_a_terminal_gets_colour_and_its_own_width(terminal: pytest.MonkeyPatch) -> None:
    page = page_for(Terminal())
    assert (page.width, page.coloured) == (80, True)
    assert ANSI.sub("", page.verdict("fail")) == "FAIL"
    assert page.verdict("fail") != "FAIL"


@pytest.mark.parametrize("variable", [("NO_COLOR", "1"), ("TERM", "dumb")])
def test_colour_can_be_declined(terminal: pytest.MonkeyPatch, variable: tuple[str, str]) -> None:
    terminal.setenv(*variable)
    assert page_for(Terminal()).coloured is False


def test_wide_terminals_do_not_make_long_lines(terminal: pytest.MonkeyPatch) -> None:
    terminal.setenv("COLUMNS", "250")
    assert page_for(Terminal()).width == 100


def test_files_and_pipes_get_plain_text(terminal: pytest.MonkeyPatch) -> None:
    assert page_for(None) == Page(100, coloured=False)
    assert page_for(io.StringIO()) == Page(80, coloured=False)
    terminal.delenv("COLUMNS")
    assert page_for(io.StringIO()) == Page(100, coloured=False)


def test_names_that_begin_with_a_figure_are_no_numbers() -> None:
    rows = [("2 strings of 2", "12 V"), ("1 string", "9.5 V (a)")]
    assert Page().table(("Name", "Voltage"), rows)[1:] == [
        "  2 strings of 2       12 V",
        "  1 string        9.5 V (a)",
    ]


@pytest.mark.parametrize(
    ("demand", "capacity", "told"),
    [
        (48379.42, 48800.0, "48.38 kPa (7.02 psi) against 48.8 kPa (7.08 psi)"),
        (73288.2, 73200.0, "73.29 kPa (10.6 psi) against 73.2 kPa (10.6 psi)"),
        (9990.0, 12000.0, "9.99 kPa (1.45 psi) against 12 kPa (1.74 psi)"),
        (1557.0, 1600.0, "1557 Pa (32.5 psf) against 1600 Pa (33.4 psf)"),
    ],
)
def test_a_demand_stands_beside_its_limit_in_one_unit(
    demand: float, capacity: float, told: str
) -> None:
    """Two decimals within a hundredth of the limit; 1 psi is 6894.76 Pa, 1 psf 47.88 Pa."""
    assert beside(demand, capacity, "Pa") == told


def test_a_share_next_to_the_whole_has_two_decimals() -> None:
    shares = (0.98999, 0.991618, 1.0, 1.0012, 1.02)
    assert [near_limit(share) for share in shares] == [
        "99 %",
        "99.16 %",
        "100 %",
        "100.12 %",
        "102 %",
    ]
