"""Time of harvests: the goals' year and day, cold and warm, by construction and by executor.

Prints processor and wall time; nothing is asserted. Run it on a machine that does nothing else:
``python tests/load/bench_harvest.py``. Goals on one core: the year in 5 s, the day in 0.2 s.
"""

import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from multiprocessing import get_context
from typing import get_args

import msgspec
from threadpoolctl import threadpool_limits

from sunhitch.codec import encode
from sunhitch.types.harvest import (
    Box,
    ClearSkyWeather,
    HarvestAlternative,
    HarvestArray,
    HarvestRequest,
    NeighbourVehicle,
    ParkedHeading,
    Parking,
    Pole,
    TreeCrown,
    Wall,
)
from sunhitch.types.panel import ConstructionName, Panel, PanelBody, PanelElectrical, PanelType
from sunhitch.types.place import Place
from sunhitch.types.roof import PlacedPanel, Roof, RoofRectangle
from sunhitch.types.shade import ArrayWiring
from sunhitch.types.system import Battery, Controller
from sunhitch_service.engine.harvest.calculation import HARVEST
from sunhitch_service.engine.harvest.computing_time import expected_ms

PLATE = PanelElectrical(
    p_mp_w=230.0,
    v_mp_v=38.4,
    i_mp_a=5.99,
    v_oc_v=45.8,
    i_sc_a=6.4,
    cells_in_series=72,
    alpha_sc_fraction_per_c=0.0005,
    beta_voc_fraction_per_c=-0.0028,
    gamma_pmp_fraction_per_c=-0.0037,
)
BODY = PanelBody(
    length_m=1.6,
    width_m=0.8,
    thickness_m=0.003,
    mass_kg=4.0,
    construction="flexible",
    cell_edge_margin_m=0.02,
)
CONTROLLER = Controller(
    name="controller", kind="mppt", max_input_voltage_v=200.0, max_output_current_a=60.0
)
FIVE_OBJECTS = [
    Box(name="house", x_m=-2.0, y_m=6.0, length_m=10.0, width_m=6.0, top_height_m=7.0),
    Wall(name="wall", from_x_m=-3.0, from_y_m=-4.0, to_x_m=9.0, to_y_m=-4.0, top_height_m=3.5),
    Pole(name="pole", x_m=2.0, y_m=3.5, diameter_m=0.2, top_height_m=8.0),
    TreeCrown(
        name="tree",
        x_m=7.0,
        y_m=-5.0,
        crown_diameter_m=5.0,
        crown_base_height_m=2.5,
        crown_top_height_m=9.0,
    ),
    NeighbourVehicle(name="neighbour", side="left", gap_m=1.0),
]


def wired(*strings: list[str]) -> HarvestArray:
    return HarvestArray(controller=CONTROLLER, wiring=ArrayWiring(strings=list(strings)))


def goal(construction: ConstructionName, days: int, step_s: int) -> HarvestRequest:
    """Three panels of 72 cells, five shade objects, two wirings."""
    panel = Panel(electrical=PLATE, construction=construction, body=BODY)
    places = ((0.3, 0.2), (2.0, 0.2), (3.3, 1.1))
    return HarvestRequest(
        place=Place(latitude_deg=47.6, longitude_deg=9.5, altitude_m=400.0),
        weather=ClearSkyWeather(
            first_day="2027-01-01" if days > 1 else "2027-06-21",
            days=days,
            utc_offset_h=1.0,
            step_s=step_s,
        ),
        parking=Parking(headings=[ParkedHeading(heading_deg=0.0)]),
        roof=Roof(outline=RoofRectangle(length_m=5.0, width_m=2.0)),
        roof_height_m=2.5,
        shade=FIVE_OBJECTS,
        panel_types=[PanelType(name="sheet", panel=panel)],
        placements=[
            PlacedPanel(name=f"p{k}", panel_type="sheet", x_m=x, y_m=y)
            for k, (x, y) in enumerate(places)
        ],
        arrays=[wired(["p0", "p1", "p2"])],
        compare=[HarvestAlternative(name="parallel", arrays=[wired(["p0"], ["p1"], ["p2"])])],
        battery=Battery(
            chemistry="lithium-iron-phosphate", nominal_voltage_v=12, capacity_ah=200.0
        ),
    )


def timed(work: Callable[[], object]) -> str:
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return f"{time.perf_counter() - wall:6.3f} s wall {time.process_time() - cpu:6.3f} s processor"


def by_construction() -> None:
    for construction in get_args(ConstructionName):
        for name, request in (
            ("day ", goal(construction, 1, 300)),
            ("year", goal(construction, 365, 3600)),
        ):
            cold = timed(lambda request=request: HARVEST.answer(request))
            warm = timed(lambda request=request: HARVEST.answer(request))
            estimate = expected_ms(request) / 1000.0
            print(f"{construction:22} {name} first {cold} | again {warm} | est. {estimate:5.2f} s")


def long_study() -> HarvestRequest:
    """Eight headings round the year."""
    return msgspec.structs.replace(goal("half-cell-2-diodes", 365, 3600), parking=Parking(spread=8))


def by_executor() -> None:
    request = long_study()
    inline = encode(HARVEST.answer(request))
    print(f"eight headings, inline        {timed(lambda: HARVEST.answer(request))}")

    def told(name: str, executor: Executor) -> None:
        same = encode(HARVEST.answer(request, executor)) == inline
        spent = timed(lambda: HARVEST.answer(request, executor))
        print(f"eight headings, {name} {spent} | same bytes: {same}")

    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        told("two processes", pool)
    try:
        from distributed import Client, LocalCluster
    except ModuleNotFoundError:
        return
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0") as cluster,
        Client(cluster) as client,
    ):
        told("two dask workers", client.get_executor())


if __name__ == "__main__":
    with threadpool_limits(1):
        by_construction()
        by_executor()
