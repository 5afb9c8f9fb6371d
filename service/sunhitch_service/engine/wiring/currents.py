"""Currents that each rule family asks of conductor and device."""

import msgspec

from sunhitch.texts import Text, statement
from sunhitch.types.wiring import DesignCurrents, PanelsBehind, WireSizingRequest
from sunhitch_service.engine.circuit.rule_figures import CONTINUOUS, STRONG_SUN
from sunhitch_service.engine.rules.families import Family

from .citation import group_of


def maximum_a(request: WireSizingRequest) -> float:
    """Largest current of the circuit [A]: given, rated output, or 1.25 × Isc of the panels.

    References
    ----------
    NFPA 70, 690.8(A)(1).
    """
    if request.panels_behind is not None:
        return STRONG_SUN * carried_i_sc_a(request, request.panels_behind)
    return request.current_a or request.controller_output_a or 0.0


def others_i_sc_a(panels: PanelsBehind) -> float:
    """Short-circuit current of the other strings together [A]: given, or of as many equal ones."""
    given = panels.other_strings_i_sc_a
    return (panels.strings_in_parallel - 1) * panels.i_sc_a if given is None else given


def carried_i_sc_a(request: WireSizingRequest, panels: PanelsBehind) -> float:
    """Short-circuit current in the conductor [A]: of one string in its lead, else of all."""
    alone = request.circuit == "pv-string"
    return panels.i_sc_a + (0.0 if alone else others_i_sc_a(panels))


def operating_a(request: WireSizingRequest) -> tuple[float, Text]:
    """Current behind drop and loss [A], and why it is that; no reason where it is given."""
    panels = request.panels_behind
    if request.operating_current_a is not None:
        return request.operating_current_a, statement("given")
    if panels is not None:
        each, name = (panels.i_mp_a, "Imp") if panels.i_mp_a else (panels.i_sc_a, "Isc")
        carried = carried_i_sc_a(request, panels) / panels.i_sc_a
        return each * carried, statement("of-panels-in-sun", quantity=name)
    if group_of(request.circuit) == "pv":
        why = statement("without-strong-sun")
        return maximum_a(request) / STRONG_SUN, why
    return maximum_a(request), statement("largest-is-safe")


class Currents(msgspec.Struct, frozen=True, gc=False):
    """Currents under one rule family [A]; fields as in the contract's `DesignCurrents`."""

    maximum_a: float
    before_correction_a: float
    after_correction_a: float
    operating_a: float


def design_currents(
    request: WireSizingRequest, family: Family, known: Currents | None = None
) -> Currents:
    """Currents under one rule family.

    NFPA 70 asks for 1.25 × the largest current before correction, or for the largest current after
    it: one or the other, never both factors against a corrected ampacity.

    Parameters
    ----------
    request : WireSizingRequest
        Circuit.
    family : {'nec', 'iec', 'us-33-cfr-183'}
        Rule family.
    known : Currents or None
        The same under another family, where that is known.

    Returns
    -------
    Currents
        Largest, before and after correction, operating.

    References
    ----------
    NFPA 70, 690.8(B) and 210.19(A); IEC 60364-4-43, 433.1; 33 CFR 183.425(b).
    """
    largest = known.maximum_a if known else maximum_a(request)
    operating = known.operating_a if known else operating_a(request)[0]
    return Currents(largest, _factor(request, family) * largest, largest, operating)


def _factor(request: WireSizingRequest, family: Family) -> float:
    return CONTINUOUS if family == "nec" and request.continuous else 1.0


def explained(request: WireSizingRequest, family: Family, found: Currents) -> DesignCurrents:
    """The same currents for the answer, with the steps in words."""
    return DesignCurrents(
        maximum_a=found.maximum_a,
        before_correction_a=found.before_correction_a,
        after_correction_a=found.after_correction_a,
        operating_a=found.operating_a,
        how=_how(request, found.maximum_a, _factor(request, family)),
    )


def _how(request: WireSizingRequest, largest: float, factor: float) -> str:
    panels = request.panels_behind
    told = statement("largest-current", most_a=largest)
    if panels is not None:
        carried, each = carried_i_sc_a(request, panels), panels.i_sc_a
        alike = panels.other_strings_i_sc_a is None or carried == each
        isc = statement("isc", current_a=carried)
        if alike:
            isc = statement("strings-of-isc", strings=round(carried / each), each_a=each)
        told = statement("strong-sun-current", isc=isc, factor=STRONG_SUN, most_a=largest)
    if factor <= 1.0:
        return statement("largest-current-only", told=told)
    before_a = factor * largest
    return statement(
        "largest-current-before", told=told, factor=factor, before_a=before_a, most_a=largest
    )
