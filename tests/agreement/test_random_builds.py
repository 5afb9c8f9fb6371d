"""A sample of `random_builds.py`."""

from random_builds import run


def test_no_conductor_is_bare_and_every_paper_names_the_same_devices():
    seen = run(count=8, seed=3)
    met = {
        "either, proven",
        "return, protected",
        "chassis, proven",
        "removable-panel",
        "starter-to-charger",
        "bus-to-load",
    }
    assert met <= set(seen)
    assert seen["refused"] == 0
