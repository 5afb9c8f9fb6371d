"""Every calculation once: its name, path, request and answer; client and server read this."""

from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from .types.array import ArrayConfigurationAnswer, ArrayConfigurationRequest
from .types.base import Input
from .types.check import Answer
from .types.commissioning import CommissioningCheckAnswer, CommissioningCheckRequest
from .types.fitout import FitOutAnswer, FitOutRequest
from .types.harvest import HarvestAnswer, HarvestRequest
from .types.mount import MountCheckAnswer, MountCheckRequest
from .types.roof import RoofLayoutAnswer, RoofLayoutRequest
from .types.shade import ShadedIvAnswer, ShadedIvRequest
from .types.wiring import WireSizingAnswer, WireSizingRequest

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Answer)


@dataclass(frozen=True, slots=True)
class Operation(Generic[Q, A]):
    """One calculation of the contract.

    Parameters
    ----------
    name : str
        Kebab-case name, the last part of the path.
    request, answer : type
        Contract Structs.
    title : str
        What it answers, in a few words.
    description : str
        What it is given and what it answers.
    in_pieces : bool
        Whether it may take long, and tells its progress on the way.
    """

    name: str
    request: type[Q]
    answer: type[A]
    title: str
    description: str
    in_pieces: bool = False

    @property
    def path(self) -> str:
        """Path of the POST call."""
        return f"/v1/{self.name}"


SHADED_IV = Operation(
    "shaded-iv",
    ShadedIvRequest,
    ShadedIvAnswer,
    "Power of a partly shaded array",
    "Current and power curves, every local maximum, what a simple tracker finds, the state of "
    "every panel, bypass group and cell, and where the power goes.",
)

ARRAY_CONFIGURATION = Operation(
    "array-configuration",
    ArrayConfigurationRequest,
    ArrayConfigurationAnswer,
    "Series and parallel arrangements of an array",
    "Every way to wire the given panels to one or two controllers, each with its checks, its power "
    "in sun and shade, its harness, and a ranking with reasons and what would change it.",
)

WIRE_SIZING = Operation(
    "wire-sizing",
    WireSizingRequest,
    WireSizingAnswer,
    "Conductor, fuse and entry of one circuit",
    "The smallest conductor that satisfies every rule, in American wire gauge and in square "
    "millimetres, what governed, drop and loss, the neighbouring sizes, the protective device, "
    "disconnects and cable entry.",
)

MOUNT_CHECK = Operation(
    "mount-check",
    MountCheckRequest,
    MountCheckAnswer,
    "Whether a panel stays on the roof",
    "Every load case of travel and parking against every mode of failure of adhesive feet, "
    "fastened feet, bonded sheets or rails: what governs, how fast it may be driven, what is left "
    "with one foot lost, and what would help, each change computed.",
)

ROOF_LAYOUT = Operation(
    "roof-layout",
    RoofLayoutRequest,
    RoofLayoutAnswer,
    "The most panel that fits a roof",
    "From the roof's outline, obstacles, seams, strips and panels to places, feet and cables: the "
    "most power or the wanted number, with a bound that no layout can pass, what was avoided and "
    "by how much, cable lengths, balance, and what moving one obstacle would gain.",
)

FIT_OUT = Operation(
    "fit-out",
    FitOutRequest,
    FitOutAnswer,
    "The whole job, checked",
    "From vehicle, roof, panels placed or to be laid out, controllers, battery, site, shade and "
    "travel to one build: roof plan, ranked wirings, wire and fuse schedule, mount checks, bill of "
    "materials and ordered work steps, with all checks in one list.",
)

COMMISSIONING_CHECK = Operation(
    "commissioning-check",
    CommissioningCheckRequest,
    CommissioningCheckAnswer,
    "What the meter should show, and why it does not",
    "Readings of voltage and current against a faultless array in the same light, each with its "
    "uncertainty, ranked causes of a shortfall with the test that tells them apart, insulation and "
    "polarity, the yearly loss from dated readings, and the acceptance test in order.",
)

HARVEST = Operation(
    "harvest",
    HarvestRequest,
    HarvestAnswer,
    "Energy through the year, with shade and battery",
    "From place, headings, weather, shade around the vehicle, panels, battery and loads to energy "
    "by month and typical day, every loss, the battery's state, hours without power, and a "
    "comparison of wirings, constructions, headings and tilts with the reason for the best.",
    in_pieces=True,
)

OPERATIONS: tuple[Operation[Any, Any], ...] = (
    FIT_OUT,
    ARRAY_CONFIGURATION,
    COMMISSIONING_CHECK,
    HARVEST,
    MOUNT_CHECK,
    ROOF_LAYOUT,
    SHADED_IV,
    WIRE_SIZING,
)
