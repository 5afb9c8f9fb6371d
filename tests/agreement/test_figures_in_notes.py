"""Figures that notes of rules tell in words are those of the tables by which rules judge."""

import pytest

from sunhitch_service.engine.mount.figures import figure, row
from sunhitch_service.engine.rules.table import entries

NOTES = {
    "stud-bending": ("bending_factor", "over {0:g}"),
    "tested-pull": ("tested_factor", "over {0:g}"),
    "bracket-bending": ("rail_factor", "over {0:g}"),
    "clamp-toe": ("rail_factor", "over {0:g}"),
    "clamp-tightening": ("rail_factor", "over {0:g}"),
    "rail-bending": ("rail_factor", "over {0:g}"),
    "rail-deflection": ("rail_span_over_sag", "over {0:g}"),
    "clamp-slip": ("clamp_factor", "over {0:g}"),
    "stud-shear": ("shear_of_ultimate", "{0:g} of the tensile strength"),
    "wood-depth": ("wood_depth", "{0:g} diameters"),
    "wood-spacing": ("wood_spacing", "{0:g} diameters"),
}


@pytest.mark.parametrize("code", sorted(NOTES))
def test_a_note_tells_the_factor_of_its_table(code: str) -> None:
    name, words = NOTES[code]
    for each in entries()[code].citations:
        assert words.format(figure("limit", name)) in each.note, each.note


@pytest.mark.parametrize("code", ["stud-tension", "clamp-bolt"])
def test_half_the_proof_load_is_told_as_half(code: str) -> None:
    assert figure("limit", "proof_factor") == 2.0
    for each in entries()[code].citations:
        assert each.note.startswith("Half the proof"), each.note


@pytest.mark.parametrize("code", ["skin-pull-over", "skin-bearing"])
def test_partial_factors_are_told_as_the_product_that_counts(code: str) -> None:
    told = [each.note for each in entries()[code].citations]
    assert all("1.25 × 1.5" in note for note in told), told
    assert figure("limit", "sheet_factor") == 1.25 * 1.5


def test_the_reasons_of_reserves_tell_their_own_factors() -> None:
    for code, told in (
        ("stud-bending", "over 1.5"),
        ("bracket-bending", "over 1.65"),
        ("clamp-slip", "over 1.5"),
    ):
        of = row("built_in", code)
        assert of["reason"].endswith(f"{told}.")
        assert float(told.removeprefix("over ")) == figure("limit", of["limit"])
