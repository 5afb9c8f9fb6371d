"""An arrangement with its nameplate figures, ready for the rules."""

from collections import Counter
from dataclasses import dataclass

import msgspec

from sunhitch.texts import statement, together
from sunhitch_service.engine.circuit.string_fuse import counted_light, string_i_sc_a
from sunhitch_service.engine.controller.settings import ControllerSettings
from sunhitch_service.engine.rules.weakest import WeakestRating, weakest_rating

from .design import ArrayDesign, PanelKind

String = tuple[int, ...]
"""Members in series, from the positive end."""


@dataclass(frozen=True, slots=True)
class Wired:
    """Strings in parallel on one controller.

    Parameters
    ----------
    controller : int
        Index of the controller.
    strings : tuple of String
        At least one.
    """

    controller: int
    strings: tuple[String, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """One way to wire the panels.

    Parameters
    ----------
    arrays : tuple of Wired
        One per controller in use.
    leftover : tuple of int
        Members left unused.
    """

    arrays: tuple[Wired, ...]
    leftover: tuple[int, ...]


class StringFigures(msgspec.Struct, frozen=True):
    """Nameplate figures of one string.

    Parameters
    ----------
    number : int
        1-based place on its controller.
    members : tuple of int
        Its panels.
    cold_coefficient_v, cold_table_v : float or None
        Voc in the cold; None where a panel lacks the coefficient, or the table ends [V].
    cold_voc_v : float
        Voc in the cold, each panel by its governing method [V].
    cold_is_known : bool
        Whether that method reaches the site's cold.
    hot_vmp_v, hot_voc_v, v_mp_v : float
        Sums [V].
    i_sc_a, i_mp_a, p_mp_w : float
        Largest Isc [A], smallest Imp [A], sum of powers [W].
    counted_w : float
        Sum of powers in the light that the rules' factor for strong sun applies to [W].
    largest_i_mp_a : float
        Largest Imp [A].
    series_fuse : WeakestRating
        Smallest of its panels' largest series fuses [A].
    system_voltage_v : float or None
        Largest system voltage of its panels that decides in the cold [V]; None where an unknown
        one may.
    """

    number: int
    members: String
    cold_coefficient_v: float | None
    cold_table_v: float | None
    cold_voc_v: float
    cold_is_known: bool
    hot_vmp_v: float
    hot_voc_v: float
    v_mp_v: float
    i_sc_a: float
    i_mp_a: float
    p_mp_w: float
    counted_w: float
    largest_i_mp_a: float
    series_fuse: WeakestRating
    system_voltage_v: float | None


@dataclass(frozen=True, slots=True)
class ArrayFigures:
    """What is wired to one controller.

    Parameters
    ----------
    controller : ControllerSettings
        The controller.
    strings : tuple of StringFigures
        In parallel.
    i_sc_a : float
        Sum of their short-circuit currents [A].
    removable : StringFigures or None
        What is plugged in beside them.
    """

    controller: ControllerSettings
    strings: tuple[StringFigures, ...]
    i_sc_a: float
    removable: StringFigures | None = None

    @property
    def meeting(self) -> tuple[StringFigures, ...]:
        """All that meets at the controller: strings, and what is plugged in."""
        return (*self.strings, self.removable) if self.removable else self.strings

    @property
    def whole_i_mp_a(self) -> float:
        """Sum of currents at maximum power with what is plugged in [A]."""
        return sum(s.i_mp_a for s in self.meeting)

    @property
    def whole_i_sc_a(self) -> float:
        """Sum of short-circuit currents with what is plugged in [A]."""
        return sum(s.i_sc_a for s in self.meeting)

    @property
    def whole_p_mp_w(self) -> float:
        """Sum of nameplate powers with what is plugged in [W]."""
        return sum(s.p_mp_w for s in self.meeting)

    @property
    def whole_counted_w(self) -> float:
        """Sum of counted powers with what is plugged in [W]."""
        return sum(s.counted_w for s in self.meeting)

    @property
    def p_mp_w(self) -> float:
        """Sum of the strings' nameplate powers [W]."""
        return sum(s.p_mp_w for s in self.strings)

    def subject(self, string: StringFigures | None = None) -> str:
        """What a check of this array, or of one of its strings, is about."""
        name = self.controller.given.name
        if string is None or len(self.strings) == 1:
            return name
        return statement("string-of-array", controller=name, number=string.number)


def figures(design: ArrayDesign, wired: Wired) -> ArrayFigures:
    """Nameplate figures of one controller's array.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.
    wired : Wired
        Strings on one controller.

    Returns
    -------
    ArrayFigures
        In the order of the strings.
    """
    strings: list[StringFigures] = []
    for number, members in enumerate(wired.strings, 1):
        kinds = tuple([design.members[m].kind for m in members])
        alike = design.strings.get(kinds)
        if alike is None:
            alike = design.strings[kinds] = _string(design, [design.kinds[kind] for kind in kinds])
        strings.append(msgspec.structs.replace(alike, number=number, members=members))
    controller = design.controllers[wired.controller]
    plugged = design.removable.get(controller.given.name)
    beside = _string(design, list(plugged)) if plugged else None
    return ArrayFigures(controller, tuple(strings), sum(s.i_sc_a for s in strings), beside)


def _string(design: ArrayDesign, kinds: list[PanelKind]) -> StringFigures:
    plates = [kind.panel.electrical for kind in kinds]
    cold_v = sum(k.cold_voc_v for k in kinds)
    return StringFigures(
        number=0,
        members=(),
        cold_coefficient_v=_sum([k.cold_coefficient_v for k in kinds]),
        cold_table_v=_sum([k.cold_table_v for k in kinds]),
        cold_voc_v=cold_v,
        cold_is_known=all(k.cold_is_known for k in kinds),
        hot_vmp_v=sum(k.hot_vmp_v for k in kinds),
        hot_voc_v=sum(k.hot_voc_v for k in kinds),
        v_mp_v=sum(p.v_mp_v for p in plates),
        i_sc_a=string_i_sc_a(plates, design.strongest_w_m2),
        i_mp_a=min(p.i_mp_a for p in plates),
        p_mp_w=sum(p.p_mp_w for p in plates),
        counted_w=sum(
            counted_light(p.bifaciality_fraction, design.strongest_w_m2) * p.p_mp_w for p in plates
        ),
        largest_i_mp_a=max(p.i_mp_a for p in plates),
        series_fuse=weakest_rating(p.max_series_fuse_a for p in plates),
        system_voltage_v=weakest_rating(p.max_system_voltage_v for p in plates).against(cold_v),
    )


def _sum(values: list[float | None]) -> float | None:
    known = [v for v in values if v is not None]
    return sum(known) if len(known) == len(values) else None


def describe(design: ArrayDesign, string: String) -> str:
    """A string in words, as in `2 × sheet-115 + glass-100`."""
    names = Counter(design.kinds[design.members[member].kind].name for member in string)
    return together(
        "plus",
        [
            statement("of-type", panels=n, panel_type=name) if n > 1 else name
            for name, n in names.items()
        ],
    )
