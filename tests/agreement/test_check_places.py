"""One figure and one verdict a code, in every place that tells it."""

from check_places import PLACES, run

from sunhitch_service.engine.rules.table import entries


def test_a_fit_out_says_what_its_parts_and_the_flat_questions_say():
    seen = run(count=8, seed=5)
    assert set(PLACES) <= set(entries())
    assert len(set(PLACES) & set(seen)) > 38
    told = {place for places in PLACES.values() for place in places}
    assert all(seen[place] for place in told if place.startswith(("quick/", "shaded-iv")))
    assert seen["refused"] < seen["builds"]
