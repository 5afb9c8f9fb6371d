"""What the rest of this domain works on: the request with every default settled."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sunhitch.types.array import ArrayConfigurationRequest
from sunhitch.types.check import Check
from sunhitch.types.panel import Panel
from sunhitch.types.system import RuleSet
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.cold import ColdLimits
from sunhitch_service.engine.controller.settings import ChargingCurrent, ControllerSettings
from sunhitch_service.engine.pv.presets import ResolvedPanel
from sunhitch_service.engine.pv.voltage import coldest_factor

if TYPE_CHECKING:
    from .figures import StringFigures

Grid = tuple[tuple[float, ...], ...]
Share = float | Grid
"""Light on a panel: one number, or a number per cell as [path][position]."""
TypesOfArray = tuple[int, tuple[tuple[int, ...], ...]]
"""Controller, and types of the panels of its strings in order: all that most rules look at."""


@dataclass(frozen=True, slots=True)
class PanelKind:
    """A panel type with its voltages at the site's limits.

    Parameters
    ----------
    name : str
        Name of the type.
    panel : Panel
        As given.
    resolved : ResolvedPanel
        With cells and diodes.
    cold_coefficient_v, cold_table_v : float or None
        Voc in the cold by coefficient and by table; None where the method does not apply [V].
    hot_vmp_v, hot_voc_v : float
        At the hot cell temperature [V].
    lead_length_m : float or None
        Length of each own lead [m].
    """

    name: str
    panel: Panel
    resolved: ResolvedPanel
    cold_coefficient_v: float | None
    cold_table_v: float | None
    hot_vmp_v: float
    hot_voc_v: float
    lead_length_m: float | None

    @property
    def cold_voc_v(self) -> float:
        """Voc in the cold by the governing method [V].

        Beyond both methods' reach that of the table's last band, which it is sure to exceed.
        """
        for value in (self.cold_coefficient_v, self.cold_table_v):
            if value is not None:
                return value
        return coldest_factor() * self.panel.electrical.v_oc_v

    @property
    def cold_is_known(self) -> bool:
        """Whether either method reaches the site's cold."""
        return self.cold_coefficient_v is not None or self.cold_table_v is not None


@dataclass(frozen=True, slots=True)
class Member:
    """One panel.

    Parameters
    ----------
    name : str
        Unique name.
    kind : int
        Index of its type.
    light : tuple
        Its light in every shade state: a number or a grid as nested tuples.
    """

    name: str
    kind: int
    light: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class DesignLight:
    """A state of light.

    Parameters
    ----------
    name : str
        Name of the state.
    weight : float
        Share of the time [1].
    irradiance_w_m2, cell_c : float
        Irradiance and cell temperature.
    shade : int or None
        Index of the shade state; None for unshaded ones.
    """

    name: str
    weight: float
    irradiance_w_m2: float
    cell_c: float
    shade: int | None


@dataclass(frozen=True, slots=True)
class ArrayDesign:
    """Everything settled.

    Parameters
    ----------
    request : ArrayConfigurationRequest
        As given.
    assumptions : Assumptions
        What was chosen so far.
    rules : str
        Rule set.
    kinds : tuple of PanelKind
        Panel types.
    members : tuple of Member
        Single panels.
    controllers : tuple of ControllerSettings
        Controllers.
    lights : tuple of DesignLight
        Full sun first, then the shade states, and the hot state last.
    hot_cell_c : float
        Hot cell temperature [°C].
    charge_voltage_v, working_voltage_v : float
        Highest and usual battery voltage while charging [V].
    charge_limit_a : float
        Largest charging current [A].
    charge_limit_given : bool
        Whether the caller gave it.
    cold : ColdLimits
        The same in the cold.
    voltage_reserve : float
        Reserve wanted below a controller's input voltage [1].
    plug_a, branch_a : float
        Ratings of plugs and of branch connectors [A].
    removable : dict of tuple of PanelKind
        Panels in series that are plugged in beside an array, by the name of its controller.
    strings : dict
        Strings worked out so far, by the types of their panels in order.
    voltages : dict
        Voltage rules applied so far.
    currents : dict
        Current rules applied so far, beside what the controller can push into the battery [A].
    """

    request: ArrayConfigurationRequest
    assumptions: Assumptions
    rules: RuleSet
    kinds: tuple[PanelKind, ...]
    members: tuple[Member, ...]
    controllers: tuple[ControllerSettings, ...]
    lights: tuple[DesignLight, ...]
    hot_cell_c: float
    charge_voltage_v: float
    working_voltage_v: float
    charge_limit_a: float
    charge_limit_given: bool
    cold: ColdLimits
    voltage_reserve: float
    plug_a: float
    branch_a: float
    removable: dict[str, tuple[PanelKind, ...]]
    strings: "dict[tuple[int, ...], StringFigures]" = field(
        default_factory=dict[tuple[int, ...], "StringFigures"]
    )
    voltages: dict[TypesOfArray, list[Check]] = field(
        default_factory=dict[TypesOfArray, list[Check]]
    )
    currents: dict[TypesOfArray, tuple[list[Check], ChargingCurrent]] = field(
        default_factory=dict[TypesOfArray, tuple[list[Check], ChargingCurrent]]
    )

    @property
    def strongest_w_m2(self) -> float:
        """Strongest sun that is asked about [W/m²]."""
        states = (state.irradiance_w_m2 for state in self.request.shade)
        return max([self.request.sun.irradiance_w_m2, *states])
