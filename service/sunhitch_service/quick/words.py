"""What answers to quick questions say in words."""

from sunhitch.texts import Text, statement, together
from sunhitch.types.basis import Assumption, Basis, Caution
from sunhitch_service.engine.assumptions import reason_of


def assumed(assumptions: list[Assumption]) -> str:
    """Assumptions as text, each named by the last part of its field."""
    return together(
        "space",
        (
            statement(
                "value-assumed",
                field=one.field.rsplit("/", 1)[-1],
                value=_told(one.value),
                why=reason_of(one),
            )
            for one in assumptions
        ),
    )


def _told(value: float | str | bool) -> str:
    """Figures to six digits."""
    return str(float(f"{value:.6g}") if isinstance(value, float) else value)


def cited(*bases: Basis) -> str:
    """Sources as text, each once."""
    texts = (
        statement("source-and-note", source=one.reference, note=one.note)
        if one.note
        else statement("source-alone", source=one.reference)
        for one in bases
    )
    return together("space", dict.fromkeys(texts))


def warned(cautions: list[Caution]) -> str:
    """Cautions as text."""
    return together("space", (Text(one.text, one.code, {}, "caution") for one in cautions))
