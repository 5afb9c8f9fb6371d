"""Fair shares by cost: order of service in a queue without a clock."""

from dataclasses import dataclass, field
from itertools import groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunhitch_service.workers.fair import Budgets, FairQueue, Shares


@dataclass
class Serving:
    """A queue with workers that all take as long as they cost; who was served when."""

    costs: dict[str, float]
    workers: int = 1
    order: list[str] = field(default_factory=list[str])
    cost: dict[str, float] = field(default_factory=dict[str, float])

    def run(self, rounds: int, expected_s: float = 0.1) -> None:
        """Callers who always have something waiting."""
        queue: FairQueue[str] = FairQueue()
        for caller in self.costs:
            for _ in range(rounds):
                queue.push(caller, caller, expected_s, long=False)
        for _ in range(rounds):
            waiting = queue.pop(with_long=True)
            assert waiting is not None
            queue.settle(waiting, self.costs[waiting.item])
            self.order.append(waiting.item)
            self.cost[waiting.item] = self.cost.get(waiting.item, 0.0) + self.costs[waiting.item]


@settings(deadline=None)
@given(
    costs=st.dictionaries(st.sampled_from("abcdef"), st.floats(0.01, 10.0), min_size=2),
    expected_s=st.floats(0.0, 10.0),
)
def test_callers_who_always_ask_have_the_same_cost_within_one_piece(
    costs: dict[str, float], expected_s: float
) -> None:
    serving = Serving(costs)
    serving.run(300, expected_s)
    had = [serving.cost.get(caller, 0.0) for caller in costs]
    assert max(had) - min(had) <= 2.0 * max(costs.values()) + 1e-9


def test_one_who_comes_later_waits_for_one_piece_only() -> None:
    queue: FairQueue[str] = FairQueue()
    for _ in range(1000):
        queue.push("greedy", "batch", 0.05, long=False)
    for _ in range(100):
        waiting = queue.pop(with_long=True)
        assert waiting is not None
        queue.settle(waiting, 0.05)
    queue.push("modest", "call", 0.2, long=False)
    served = [queue.pop(with_long=True) for _ in range(2)]
    assert "call" in [one.item for one in served if one]


def test_idling_earns_nothing() -> None:
    queue: FairQueue[str] = FairQueue()
    queue.push("idle", "first", 1.0, long=False)
    first = queue.pop(with_long=True)
    assert first is not None
    for _ in range(60):
        queue.push("busy", "busy", 1.0, long=False)
    for _ in range(40):
        waiting = queue.pop(with_long=True)
        assert waiting is not None
        queue.settle(waiting, 1.0)
    queue.settle(first, 1.0)
    for _ in range(20):
        queue.push("idle", "idle", 1.0, long=False)
    order: list[str] = []
    for _ in range(20):
        waiting = queue.pop(with_long=True)
        assert waiting is not None
        queue.settle(waiting, 1.0)
        order.append(waiting.item)
    assert max(len(list(run)) for _, run in groupby(order)) <= 2


def test_leaving_and_coming_back_pays_no_debt() -> None:
    """Whoever used much is behind others until they have had as much, also after a pause."""
    queue: FairQueue[str] = FairQueue()
    queue.push("other", "stays", 0.0, long=True)
    stays = queue.pop(with_long=True)
    assert stays is not None
    queue.push("heavy", "heavy", 0.1, long=False)
    heavy = queue.pop(with_long=True)
    assert heavy is not None
    queue.settle(heavy, 30.0)
    queue.push("heavy", "heavy", 0.1, long=False)
    queue.push("light", "light", 0.1, long=False)
    waiting = queue.pop(with_long=True)
    assert waiting is not None
    assert waiting.item == "light"


def test_short_comes_before_long_but_not_for_ever() -> None:
    queue: FairQueue[str] = FairQueue()
    queue.push("one", "long", 3.0, long=True)
    order: list[str] = []
    while "long" not in order:
        queue.push("one", "short", 0.1, long=False)
        waiting = queue.pop(with_long=True)
        assert waiting is not None
        queue.settle(waiting, 0.1)
        order.append(waiting.item)
    assert 25 <= order.count("short") <= 35


def test_long_pieces_wait_where_there_is_no_room_for_them() -> None:
    queue: FairQueue[str] = FairQueue()
    queue.push("a", "long", 3.0, long=True)
    assert queue.pop(with_long=False) is None
    queue.push("b", "short", 0.1, long=False)
    served = queue.pop(with_long=False)
    assert served is not None
    assert served.item == "short"
    assert len(queue) == 1


def test_the_last_worker_is_for_callers_who_have_none() -> None:
    queue: FairQueue[str] = FairQueue()
    for _ in range(3):
        queue.push("greedy", "greedy", 0.1, long=False)
    first = queue.pop(with_long=True, with_more=False)
    assert first is not None
    assert queue.pop(with_long=True, with_more=False) is None
    queue.push("modest", "modest", 9.0, long=False)
    served = [queue.pop(with_long=True, with_more=False) for _ in range(2)]
    assert [one and one.item for one in served] == ["modest", None]
    queue.settle(first, 50.0)
    again = queue.pop(with_long=True, with_more=False)
    assert again is not None
    assert again.item == "greedy"


def test_what_nobody_waits_for_is_not_served() -> None:
    queue: FairQueue[int] = FairQueue()
    waiting = [queue.push("a", number, 0.1, long=False) for number in range(9)]
    for one in waiting[::2]:
        queue.discard(one)
    left = [queue.pop(with_long=True) for _ in range(4)]
    assert [one.item for one in left if one] == [1, 3, 5, 7]
    assert queue.pop(with_long=True) is None


def test_callers_who_are_done_are_forgotten() -> None:
    queue: FairQueue[int] = FairQueue()
    for number in range(20_000):
        queue.push(f"caller {number}", number, 0.1, long=False)
        waiting = queue.pop(with_long=True)
        assert waiting is not None
        queue.settle(waiting, 5.0)
    assert queue._accounts == {}


@pytest.mark.parametrize("places", [1, 2, 3, 16, 64])
def test_the_greediest_leave_a_place_for_the_next(places: int) -> None:
    shares = Shares(places)
    for _ in range(2 * places):
        for who in "ab":
            if shares.has_room(who):
                shares.add(who, 1)
    assert 1 <= shares.total <= places
    if places > 3:
        assert shares.has_room("c")
    assert abs(shares.held("a") - shares.held("b")) <= 1


def test_one_alone_gets_two_thirds_of_the_places() -> None:
    shares = Shares(63)
    while shares.has_room("a"):
        shares.add("a", 1)
    assert shares.held("a") == 42
    shares.add("a", -42)
    assert shares.has_room("b")
    assert shares.total == 0


def test_a_budget_is_refilled_steadily() -> None:
    now_s = 0.0
    budgets = Budgets(30.0, lambda: now_s)
    budgets.spend("a", 25.0)
    assert budgets.wait_s("a") == 0.0
    budgets.spend("a", 15.0)
    assert budgets.wait_s("a") == pytest.approx(20.0)
    assert budgets.wait_s("b") == 0.0
    now_s = 20.0
    assert budgets.wait_s("a") == pytest.approx(0.0)
    now_s = 1000.0
    budgets.spend("a", 31.0)
    assert budgets.wait_s("a") == pytest.approx(2.0)
