"""An arrangement with its nameplate figures, ready for the rules."""

from dataclasses import dataclass

from .job import Feed, Job, Kind
from .practice import limit

String = tuple[int, ...]
"""Members in series, from the positive end."""


@dataclass(frozen=True, slots=True)
class Wired:
    """Strings in parallel on one controller.

    Parameters
    ----------
    feed : int
        Index of the controller.
    strings : tuple of String
        At least one.
    """

    feed: int
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


@dataclass(frozen=True, slots=True)
class StringFigures:
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
    largest_i_mp_a : float
        Largest Imp [A].
    series_fuse_a, system_voltage_v : float or None
        Smallest of its panels' limits; None if one of them gives none.
    reverse_a : float
        What the other strings can push into it, 1.25 × Isc each [A].
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
    largest_i_mp_a: float
    series_fuse_a: float | None
    system_voltage_v: float | None
    reverse_a: float


@dataclass(frozen=True, slots=True)
class ArrayFigures:
    """What is wired to one controller.

    Parameters
    ----------
    feed : Feed
        The controller.
    strings : tuple of StringFigures
        In parallel.
    """

    feed: Feed
    strings: tuple[StringFigures, ...]

    @property
    def i_sc_a(self) -> float:
        """Sum of short-circuit currents [A]."""
        return sum(s.i_sc_a for s in self.strings)

    @property
    def i_mp_a(self) -> float:
        """Sum of currents at maximum power [A]."""
        return sum(s.i_mp_a for s in self.strings)

    @property
    def p_mp_w(self) -> float:
        """Sum of nameplate powers [W]."""
        return sum(s.p_mp_w for s in self.strings)

    def subject(self, string: StringFigures | None = None) -> str:
        """What a check of this array, or of one of its strings, is about."""
        name = self.feed.controller.name
        if string is None or len(self.strings) == 1:
            return name
        return f"{name}, string {string.number}"


def figures(job: Job, wired: Wired) -> ArrayFigures:
    """Nameplate figures of one controller's array.

    Parameters
    ----------
    job : Job
        Settled request.
    wired : Wired
        Strings on one controller.

    Returns
    -------
    ArrayFigures
        In the order of the strings.
    """
    total = sum(_i_sc(job, string) for string in wired.strings)
    strings = tuple(
        _string(job, string, number, total) for number, string in enumerate(wired.strings, 1)
    )
    return ArrayFigures(job.feeds[wired.feed], strings)


def _i_sc(job: Job, string: String) -> float:
    return max(job.panel(m).electrical.i_sc_a for m in string)


def _string(job: Job, string: String, number: int, total_i_sc: float) -> StringFigures:
    kinds = [job.kind(m) for m in string]
    plates = [kind.panel.electrical for kind in kinds]
    i_sc = _i_sc(job, string)
    return StringFigures(
        number=number,
        members=string,
        cold_coefficient_v=_sum([k.cold_coefficient_v for k in kinds]),
        cold_table_v=_sum([k.cold_table_v for k in kinds]),
        cold_voc_v=sum(k.cold_voc_v for k in kinds),
        cold_is_known=all(k.cold_is_known for k in kinds),
        hot_vmp_v=sum(k.hot_vmp_v for k in kinds),
        hot_voc_v=sum(k.hot_voc_v for k in kinds),
        v_mp_v=sum(p.v_mp_v for p in plates),
        i_sc_a=i_sc,
        i_mp_a=min(p.i_mp_a for p in plates),
        p_mp_w=sum(p.p_mp_w for p in plates),
        largest_i_mp_a=max(p.i_mp_a for p in plates),
        series_fuse_a=_least([p.max_series_fuse_a for p in plates]),
        system_voltage_v=_least([p.max_system_voltage_v for p in plates]),
        reverse_a=limit("current-factor") * max(0.0, total_i_sc - i_sc),
    )


def _sum(values: list[float | None]) -> float | None:
    known = [v for v in values if v is not None]
    return sum(known) if len(known) == len(values) else None


def _least(values: list[float | None]) -> float | None:
    known = [v for v in values if v is not None]
    return min(known) if len(known) == len(values) else None


def describe(job: Job, string: String) -> str:
    """A string in words, as in `2 × sheet-115 + glass-100`."""
    names: dict[str, int] = {}
    for member in string:
        kind: Kind = job.kind(member)
        names[kind.name] = names.get(kind.name, 0) + 1
    return " + ".join(f"{n} × {name}" if n > 1 else name for name, n in names.items())
