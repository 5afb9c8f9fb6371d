"""The energy chart shows the answer's own figures and stays on its sheet."""

import xml.etree.ElementTree as ET

import msgspec
import pytest
from harvest_builders import array, heading, study

from sunhitch.types.harvest import HarvestAlternative, HarvestAnswer, HarvestRequest, Load
from sunhitch_service.drawing.energy_chart import energy_chart
from sunhitch_service.engine.harvest.calculation import harvest

SVG = "{http://www.w3.org/2000/svg}"


def drawn(request: HarvestRequest) -> tuple[HarvestAnswer, ET.Element]:
    answer = harvest(request)
    return answer, ET.fromstring(energy_chart(request, answer))  # noqa: S314 - our own picture


def two_months() -> HarvestRequest:
    weather = msgspec.structs.replace(study().weather, first_day="2027-05-30", days=4)
    load = Load(name="lamp", power_w=40.0)
    return study(weather=weather, loads=[load], parking=heading(90.0))


def of_kind(root: ET.Element, kind: str) -> list[ET.Element]:
    return [e for e in root.iter() if e.get("data-kind") == kind]


def test_bars_have_the_heights_of_the_months() -> None:
    answer, root = drawn(two_months())
    bars = [float(e.get("height")) for e in of_kind(root, "gained")][: len(answer.months)]
    daily = [month.charged_wh / month.days for month in answer.months]
    assert bars[0] / bars[1] == pytest.approx(daily[0] / daily[1], rel=0.01)
    words = [e.text for e in root.iter(f"{SVG}text")]
    assert {"May", "Jun"} <= set(words)


def test_the_waterfall_ends_with_what_was_taken() -> None:
    answer, root = drawn(two_months())
    widths = [float(e.get("width")) for e in of_kind(root, "left")]
    assert widths[-1] / widths[0] == pytest.approx(answer.charged_wh / answer.light_wh, abs=1e-3)
    assert f"{answer.charged_wh / 1000:.1f} kWh" in [e.text for e in root.iter(f"{SVG}text")]


def test_what_is_compared_is_drawn_to_scale_best_first() -> None:
    both = [HarvestAlternative(name="series", arrays=[array([["p0", "p1"]])])]
    answer, root = drawn(msgspec.structs.replace(two_months(), compare=both))
    (best,) = of_kind(root, "first")
    (other,) = of_kind(root, "behind")
    first, second = answer.comparison
    ratio = float(other.get("width")) / float(best.get("width"))
    assert ratio == pytest.approx(second.available_wh / first.available_wh, abs=1e-3)
    words = [e.text for e in root.iter(f"{SVG}text")]
    assert f"1. {first.name}" in words


def test_the_gauge_shows_the_battery_at_its_lowest() -> None:
    answer, root = drawn(two_months())
    shares = [float(e.get("width")) for e in of_kind(root, "held")][:2]
    lowest = [month.lowest_state_fraction for month in answer.months]
    assert shares[0] / shares[1] == pytest.approx(lowest[0] / lowest[1], rel=0.02)


def test_everything_stays_on_the_sheet_even_without_any_light() -> None:
    place = msgspec.structs.replace(study().place, latitude_deg=80.0)
    winter = msgspec.structs.replace(study().weather, first_day="2027-12-20")
    for request in (two_months(), study(place=place, weather=winter)):
        _, root = drawn(request)
        width, height = float(root.get("width")), float(root.get("height"))
        for line in root.iter(f"{SVG}polyline"):
            for corner in line.get("points").split():
                x, y = map(float, corner.split(","))
                assert 0.0 <= x <= width
                assert 0.0 <= y <= height
