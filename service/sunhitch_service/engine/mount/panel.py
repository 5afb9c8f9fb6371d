"""The panel as plate and sheet, settled: given by the caller, or chosen and noted."""

from dataclasses import dataclass

from sunhitch.texts import Text, statement
from sunhitch.types.mount import AdhesiveFeet, FastenedFeet, MountCheckRequest
from sunhitch_service.engine.assumptions import Assumptions

from .figures import figure, why
from .sheet import bending_stiffness, twin_wall_stiffness


@dataclass(frozen=True, slots=True)
class PanelProperties:
    """The panel as plate and sheet, settled; SI units."""

    flexible: bool
    thickness: float
    depth: float
    in_plane: float
    bending: float
    strength: float
    expansion: tuple[float, float]
    rating: float
    rating_given: bool
    slack: float


def settle_panel(request: MountCheckRequest, notes: Assumptions) -> PanelProperties:
    """Settle stiffness, strength and expansion of a panel; notes what was chosen."""
    flexible, mounting = request.panel.construction == "flexible", request.mounting
    given, field = request.sheet, "/sheet/"

    def pick(name: str, default: float, reason: Text) -> float:
        value: float | None = getattr(given, name) if given else None
        return notes.choose(field + name, value, default, reason)

    bending, in_plane = _stiffness_defaults(request)
    low, high = _expansion(request, notes)
    return PanelProperties(
        flexible=flexible,
        thickness=request.panel.thickness_m,
        depth=request.panel.thickness_m + (request.spacer.thickness_m if request.spacer else 0.0),
        in_plane=pick(
            "in_plane_stiffness_n_per_m", in_plane, why("sheet_default", "in_plane_modulus_pa")
        ),
        bending=pick(
            "bending_stiffness_n_m",
            bending,
            why("sheet_default", "bending_modulus_pa" if flexible else "frame_bending_n_m"),
        ),
        strength=pick(
            "laminate_strength_pa",
            figure("sheet_default", "laminate_strength_pa"),
            why("sheet_default", "laminate_strength_pa"),
        )
        if flexible
        else figure("sheet_default", "laminate_strength_pa"),
        expansion=(low, high),
        rating=pick(
            "load_rating_pa",
            figure("sheet_default", "load_rating_pa"),
            why("sheet_default", "load_rating_pa"),
        ),
        rating_given=given is not None and given.load_rating_pa is not None,
        slack=2 * mounting.play_m if isinstance(mounting, AdhesiveFeet | FastenedFeet) else 0.0,
    )


def _stiffness_defaults(request: MountCheckRequest) -> tuple[float, float]:
    """Bending [N·m] and in-plane stiffness [N/m] of panel and spacer together."""
    thickness = request.panel.thickness_m
    in_plane = figure("sheet_default", "in_plane_modulus_pa") * thickness
    if request.panel.construction == "framed":
        return figure("sheet_default", "frame_bending_n_m"), in_plane
    bending = bending_stiffness(
        figure("sheet_default", "bending_modulus_pa"),
        thickness,
        figure("sheet_default", "poisson"),
    )
    if request.spacer is None:
        return bending, in_plane
    spacer = request.spacer
    modulus = figure("spacer", spacer.material, "modulus_pa")
    wall = figure("spacer", spacer.material, "wall_m")
    own = spacer.bending_stiffness_n_m
    added = twin_wall_stiffness(modulus, wall, spacer.thickness_m) if own is None else own
    return bending + added, in_plane + 2 * modulus * wall


def _expansion(request: MountCheckRequest, notes: Assumptions) -> tuple[float, float]:
    """Least and largest expansion of what is fixed to the roof [1/K]."""
    if request.sheet is not None and request.sheet.expansion_per_c is not None:
        return request.sheet.expansion_per_c, request.sheet.expansion_per_c
    if request.panel.construction == "framed":
        frame = figure("sheet_default", "frame_expansion_per_c")
        notes.note("/sheet/expansion_per_c", frame, why("sheet_default", "frame_expansion_per_c"))
        return frame, frame
    low = figure("sheet_default", "expansion_low_per_c")
    high = figure("sheet_default", "expansion_high_per_c")
    if request.spacer is not None:
        high = max(high, figure("spacer", request.spacer.material, "expansion_per_c"))
    notes.note("/sheet/expansion_per_c", high, statement("worse-of-two", low=low, high=high))
    return low, high
