"""A sample of `wirings_with_parts.py`."""

from wirings_with_parts import run


def test_no_wiring_drawn_by_hand_holds_where_the_chosen_one_does_not() -> None:
    seen = run(count=10, seed=5)
    assert {"holds", "holds, wired otherwise", "fails"} <= set(seen)
