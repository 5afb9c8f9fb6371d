"""One method per calculation, for both kinds of client."""

from abc import ABC, abstractmethod
from typing import TypeVar

from sunhitch import operations
from sunhitch.exchange import Plain
from sunhitch.operations import Operation
from sunhitch.progress import Told
from sunhitch.types.array import ArrayConfigurationAnswer, ArrayConfigurationRequest
from sunhitch.types.base import Input
from sunhitch.types.check import Answer
from sunhitch.types.commissioning import CommissioningCheckAnswer, CommissioningCheckRequest
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.harvest import HarvestAnswer, HarvestRequest
from sunhitch.types.mount import MountCheckAnswer, MountCheckRequest
from sunhitch.types.roof import RoofLayoutAnswer, RoofLayoutRequest
from sunhitch.types.shade import ShadedIvAnswer, ShadedIvRequest
from sunhitch.types.wiring import WireSizingAnswer, WireSizingRequest

Q = TypeVar("Q", bound=Input)
A = TypeVar("A", bound=Answer)


class Calculations(ABC):
    """Every calculation as a method that waits for its answer."""

    @abstractmethod
    def call(self, operation: Operation[Q, A], request: Q | Plain) -> A:
        """Ask any operation; the other methods are shorthand for this one."""

    @abstractmethod
    def follow(self, operation: Operation[Q, A], request: Q | Plain, progress: bool | Told) -> A:
        """Ask an operation that may take long, and be told its progress."""

    def shaded_iv(self, request: ShadedIvRequest | Plain) -> ShadedIvAnswer:
        """Power of a partly shaded array: curves, maxima, the state of every panel, the losses."""
        return self.call(operations.SHADED_IV, request)

    def array_configuration(
        self, request: ArrayConfigurationRequest | Plain
    ) -> ArrayConfigurationAnswer:
        """Every way to wire the panels, judged and ranked."""
        return self.call(operations.ARRAY_CONFIGURATION, request)

    def wire_sizing(self, request: WireSizingRequest | Plain) -> WireSizingAnswer:
        """Smallest conductor that satisfies every rule, its fuse, disconnects and entry."""
        return self.call(operations.WIRE_SIZING, request)

    def mount_check(self, request: MountCheckRequest | Plain) -> MountCheckAnswer:
        """Whether a panel stays on the roof: every load case, what governs, what would help."""
        return self.call(operations.MOUNT_CHECK, request)

    def roof_layout(self, request: RoofLayoutRequest | Plain) -> RoofLayoutAnswer:
        """The most panel that fits a roof: places, feet, cables, and a bound that proves it."""
        return self.call(operations.ROOF_LAYOUT, request)

    def fit_out(self, request: FitOutRequest | Plain) -> FitOutAnswer:
        """The whole job: everything for one build, checked, from one request."""
        return self.call(operations.FIT_OUT, request)

    def commissioning_check(
        self, request: CommissioningCheckRequest | Plain
    ) -> CommissioningCheckAnswer:
        """What the meter proves: every reading judged, likely causes, the yearly loss."""
        return self.call(operations.COMMISSIONING_CHECK, request)

    def harvest(
        self, request: HarvestRequest | Plain, *, progress: bool | Told = False
    ) -> HarvestAnswer:
        """Energy through the year: shade, losses, battery, and what would do better."""
        return self.follow(operations.HARVEST, request, progress)


class AsyncCalculations(ABC):
    """Every calculation as a coroutine."""

    @abstractmethod
    async def call(self, operation: Operation[Q, A], request: Q | Plain) -> A:
        """Ask any operation; the other methods are shorthand for this one."""

    @abstractmethod
    async def follow(
        self, operation: Operation[Q, A], request: Q | Plain, progress: bool | Told
    ) -> A:
        """Ask an operation that may take long, and be told its progress."""

    async def shaded_iv(self, request: ShadedIvRequest | Plain) -> ShadedIvAnswer:
        """Power of a partly shaded array: curves, maxima, the state of every panel, the losses."""
        return await self.call(operations.SHADED_IV, request)

    async def array_configuration(
        self, request: ArrayConfigurationRequest | Plain
    ) -> ArrayConfigurationAnswer:
        """Every way to wire the panels, judged and ranked."""
        return await self.call(operations.ARRAY_CONFIGURATION, request)

    async def wire_sizing(self, request: WireSizingRequest | Plain) -> WireSizingAnswer:
        """Smallest conductor that satisfies every rule, its fuse, disconnects and entry."""
        return await self.call(operations.WIRE_SIZING, request)

    async def mount_check(self, request: MountCheckRequest | Plain) -> MountCheckAnswer:
        """Whether a panel stays on the roof: every load case, what governs, what would help."""
        return await self.call(operations.MOUNT_CHECK, request)

    async def roof_layout(self, request: RoofLayoutRequest | Plain) -> RoofLayoutAnswer:
        """The most panel that fits a roof: places, feet, cables, and a bound that proves it."""
        return await self.call(operations.ROOF_LAYOUT, request)

    async def fit_out(self, request: FitOutRequest | Plain) -> FitOutAnswer:
        """The whole job: everything for one build, checked, from one request."""
        return await self.call(operations.FIT_OUT, request)

    async def commissioning_check(
        self, request: CommissioningCheckRequest | Plain
    ) -> CommissioningCheckAnswer:
        """What the meter proves: every reading judged, likely causes, the yearly loss."""
        return await self.call(operations.COMMISSIONING_CHECK, request)

    async def harvest(
        self, request: HarvestRequest | Plain, *, progress: bool | Told = False
    ) -> HarvestAnswer:
        """Energy through the year: shade, losses, battery, and what would do better."""
        return await self.follow(operations.HARVEST, request, progress)
