"""`array-configuration`: enumerate, judge, solve, rank."""

from sunhitch.types.array import ArrayConfigurationAnswer, ArrayConfigurationRequest
from sunhitch_service.engine.answering import common
from sunhitch_service.engine.arrays import Floats
from sunhitch_service.engine.battery.hot import in_heat
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.sources import keys_of

from .answer import arrangement
from .candidates import ArrangementCandidates, candidates
from .describe import as_drawn, summary
from .design import ArrayDesign
from .evaluate import Evaluator
from .figures import Layout, Wired
from .judge import Judged, judge
from .neighbours import beside_each_other
from .power import panel_curves
from .ranking import improved, ranked
from .routes import HarnessRoof
from .screen import least_margin
from .setup import colder, settle

_SPARE = 8


def array_configuration(
    request: ArrayConfigurationRequest, ways: Floats | None = None
) -> ArrayConfigurationAnswer:
    """Every way to wire the given panels, judged, powered and ranked.

    Parameters
    ----------
    request : ArrayConfigurationRequest
        Panels, controllers, battery, site and light.
    ways : ndarray or None
        Ways of cables between the places of its layout, the entry last, where something may be in
        the way [m].

    Returns
    -------
    ArrayConfigurationAnswer
        Arrangements, best first; checks are those of the wiring as drawn, else of the first, and
        of the battery in the cold.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    design = settle(request)
    evaluator = Evaluator(design, panel_curves(design))
    found = candidates(design)
    drawn = _drawn(design)
    places = request.layout
    roof = None if places is None else HarnessRoof(design, places, ways)
    ordered = _ordered(design, evaluator, roof, found, drawn)
    place = next((n for n, one in enumerate(ordered) if one.layout == drawn), None)
    best, elsewhere = ordered[place or 0], colder(design)
    coldest_c = request.site.lowest_ambient_c
    checks = [
        *best.checks,
        *design.cold.lock_out(coldest_c),
        *design.cold.reduced(coldest_c, best.current_a + request.other_charging_a),
        *in_heat(request.battery, request.site.highest_ambient_c, design.assumptions),
    ]
    return ArrayConfigurationAnswer(
        **common(
            request,
            checks,
            design.assumptions,
            cautions("lit-panel", "dc-arc", "connection-order", "battery-energy", "judgement"),
            keys_of(*(one.checks for one in (best, *ordered[: request.most_arrangements]))),
        ),
        hot_cell_c=design.hot_cell_c,
        lowest_ambient_c=request.site.lowest_ambient_c,
        charge_voltage_v=design.charge_voltage_v,
        examined=found.examined,
        passing=len(found.passing),
        complete=found.complete,
        drawn=None if place is None else arrangement(design, elsewhere, evaluator, ordered, place),
        arrangements=[
            arrangement(design, elsewhere, evaluator, ordered, rank)
            for rank in range(min(request.most_arrangements, len(ordered)))
        ],
        rejections=[one for one in found.rejected.values() if one.arrangements > 0],
        summary=[
            *([] if place is None else [as_drawn(design, ordered, place)]),
            *summary(design, ordered, found.examined, len(found.passing)),
        ],
    )


def _drawn(design: ArrayDesign) -> Layout | None:
    """The wiring as drawn; None where none is."""
    if not design.request.drawn:
        return None
    members = {member.name: number for number, member in enumerate(design.members)}
    controllers = [one.given.name for one in design.controllers]
    arrays = [
        Wired(
            controllers.index(array.controller),
            tuple(tuple(members[name] for name in names) for names in array.strings),
        )
        for array in design.request.drawn
    ]
    used = {member for array in arrays for string in array.strings for member in string}
    leftover = tuple(number for number in range(len(design.members)) if number not in used)
    return Layout(tuple(arrays), leftover)


def _ordered(
    design: ArrayDesign,
    evaluator: Evaluator,
    roof: HarnessRoof | None,
    found: ArrangementCandidates,
    drawn: Layout | None,
) -> list[Judged]:
    """Judge the most promising layouts, and the one as drawn, and put them in order."""
    chosen = _promising(design, evaluator, found)
    if roof is not None:
        free = [layout for layout in chosen if layout != drawn]
        near = dict(zip(free, beside_each_other(design, roof, free), strict=True))
        chosen = list(dict.fromkeys(near.get(layout, layout) for layout in chosen))
    if drawn is not None and drawn not in chosen:
        chosen.append(drawn)
    evaluator.prepare(chosen)
    judged = [judge(design, evaluator, roof, layout) for layout in chosen]
    return ranked(judged, design.request.target.rank_by)


def _promising(
    design: ArrayDesign, evaluator: Evaluator, found: ArrangementCandidates
) -> list[Layout]:
    """The strongest passing layouts, the best on every set of controllers, then failing ones."""
    most = design.request.most_arrangements + _SPARE
    by = design.request.target.rank_by
    worth = (
        [least_margin(design, one) for one in found.passing]
        if by == "margin"
        else evaluator.objective(found.passing, sun_only=by == "sun-power").tolist()
    )
    order = [found.passing[n] for n in sorted(range(len(worth)), key=lambda n: -worth[n])]
    best_on: dict[tuple[int, ...], Layout] = {}
    for layout in order:
        best_on.setdefault(tuple(wired.controller for wired in layout.arrays), layout)
    better = [] if found.exact else improved(design, evaluator, order)
    chosen = dict.fromkeys([*better, *order[:most], *best_on.values()])
    for layout in found.failing:
        if len(chosen) >= most:
            break
        chosen.setdefault(layout)
    return list(chosen)
