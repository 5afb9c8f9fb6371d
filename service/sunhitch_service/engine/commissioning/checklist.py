"""The acceptance test in order, with the figures of this array."""

from sunhitch.texts import Text, statement
from sunhitch.texts.templates import Parameter, template
from sunhitch.types.check import Check, Verdict
from sunhitch.types.commissioning import ChecklistStep, StepState
from sunhitch_service.engine.checks import worst
from sunhitch_service.engine.rules.readings import insulation_row
from sunhitch_service.engine.tables import cell_text, table

from .judge import system_voltage_v
from .setup import CommissioningInspection

_BY_EYE = ("look", "keep")


def checklist(
    inspection: CommissioningInspection, tests: dict[str, list[Check]]
) -> list[ChecklistStep]:
    """Steps with what is known about each.

    Parameters
    ----------
    inspection : CommissioningInspection
        Settled request.
    tests : dict
        Checks by step: polarity, insulation and the kinds of reading.

    Returns
    -------
    list of ChecklistStep
        Open where the request holds no such test.
    """
    figures = _figures(inspection)
    return [
        ChecklistStep(
            number=number,
            title=row["title"],
            how=_how(cell_text(row, "how"), figures),
            state=_state(row["step"], tests.get(row["step"], [])),
        )
        for number, row in enumerate(table("commissioning", "checklist").rows, start=1)
    ]


def _how(told: Text, figures: dict[str, Parameter]) -> Text:
    sentence = template(told)
    own = {name: figures[name] for name in sentence.names}
    return Text(sentence.filled(own), told.code, own)


def _state(step: str, found: list[Check]) -> StepState:
    if step in _BY_EYE or not found:
        return "open"
    outcome: Verdict = worst(check.verdict for check in found)
    return "failed" if outcome == "fail" else "open" if outcome == "not-assessed" else "done"


def _figures(inspection: CommissioningInspection) -> dict[str, Parameter]:
    volts = [
        statement(
            "string-voltage",
            string=s.name,
            voltage_v=inspection.panels[s.panel_type].electrical.v_oc_v * s.panels_in_series,
        )
        for s in inspection.request.array.strings
    ]
    row = insulation_row(system_voltage_v(inspection)) or table("rules", "insulation").rows[-1]
    return {
        "voc": statement("at-25-c", voltages=[*volts]),
        "test_v": float(row["test_voltage_v"]),
        "least_mohm": float(row["least_resistance_ohm"]) / 1e6,
    }
