"""Currents that each rule family asks of conductor and device."""

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
    return panels.i_sc_a + (0.0 if request.circuit == "pv-string" else others_i_sc_a(panels))


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
        return maximum_a(request) / STRONG_SUN, statement("without-strong-sun")
    return maximum_a(request), statement("largest-is-safe")


def before_correction_a(request: WireSizingRequest, family: Family, largest_a: float) -> float:
    """Current that one rule family asks of a conductor before correction [A].

    NFPA 70 asks for 1.25 × the largest current before correction, or for the largest current after
    it: one or the other, never both factors against a corrected ampacity.

    Parameters
    ----------
    request : WireSizingRequest
        Circuit.
    family : {'nec', 'iec', 'us-33-cfr-183'}
        Rule family.
    largest_a : float
        Largest current of the circuit [A].

    References
    ----------
    NFPA 70, 690.8(B) and 210.19(A); IEC 60364-4-43, 433.1; 33 CFR 183.425(b).
    """
    return (CONTINUOUS if family == "nec" and request.continuous else 1.0) * largest_a


def design_currents(request: WireSizingRequest, family: Family) -> DesignCurrents:
    """Currents under a rule family, with the steps in words."""
    largest = maximum_a(request)
    before = before_correction_a(request, family, largest)
    return DesignCurrents(
        maximum_a=largest,
        before_correction_a=before,
        after_correction_a=largest,
        operating_a=operating_a(request)[0],
        how=_how(request, largest, before),
    )


def _how(request: WireSizingRequest, largest: float, before: float) -> str:
    panels = request.panels_behind
    told = statement("largest-current", most_a=largest)
    if panels is not None:
        carried, each = carried_i_sc_a(request, panels), panels.i_sc_a
        alike = panels.other_strings_i_sc_a is None or carried == each
        isc = (
            statement("strings-of-isc", strings=round(carried / each), each_a=each)
            if alike
            else statement("isc", current_a=carried)
        )
        told = statement("strong-sun-current", isc=isc, factor=STRONG_SUN, most_a=largest)
    if before <= largest:
        return statement("largest-current-only", told=told)
    return statement(
        "largest-current-before", told=told, factor=CONTINUOUS, before_a=before, most_a=largest
    )
