"""Each column of the tables of ampacity and factors says where it was read, and twice or memory."""

from importlib import resources
from itertools import combinations

from sunhitch_service.engine.tables import number, table

READINGS = table("wiring", "readings").rows
OTHERS = {
    *("circuits", "device_distance", "disconnects", "glands", "insulations", "notes", "readings"),
    *("practice", "pv_cable_diameters", "smallest_size"),
}
"""Tables of words, choices and practice; their rows or first lines name their sources."""
KEYS = {"awg", "area_mm2", "to_c", "to_conductors", "to_circuits", "to_length_m", "rules"}
NAMES = {
    path.name.removesuffix(".csv")
    for path in (resources.files("sunhitch_service.engine.wiring") / "data").iterdir()
}


def columns_of(name: str) -> list[str]:
    """Columns with figures."""
    return [c for c in table("wiring", name).rows[0] if c not in KEYS | {"row_note"}] or [
        "rating_a"
    ]


def told_for(name: str, column: str) -> list[dict[str, str]]:
    """Readings of a column."""
    own = [row for row in READINGS if row["table"] == name]
    return [
        row
        for row in own
        if row["columns"] == "all" or any(column.startswith(w) for w in row["columns"].split())
    ]


def test_every_column_names_two_readings_or_memory() -> None:
    assert {row["table"] for row in READINGS} == NAMES - OTHERS
    for name in NAMES - OTHERS:
        for column in columns_of(name):
            (told,) = told_for(name, column)
            twice = told["first"] != told["second"]
            assert twice or told["first"] == "memory", (name, column)


def test_what_is_from_memory_says_so_where_people_read_it() -> None:
    """The table's own first line, or its rows, carry the mark of a column without any reading."""
    for row in READINGS:
        if row["first"] == row["second"] == "memory":
            held = table("wiring", row["table"])
            notes = held.basis.note + " ".join(r.get("row_note", "") for r in held.rows)
            assert "memory" in notes.lower(), row


def test_no_column_is_another_one_times_a_constant() -> None:
    """0.78 × copper, rounded, once stood in for a column; no share in whole per cent gives one."""
    compared = 0
    for name in ("iec_60364_5_52", "nec_310_16", "nec_310_17", "cfr_183_425", "en_50618"):
        rows = table("wiring", name).rows
        # What is marked as from memory claims no reading.
        read = [c for c in columns_of(name) if told_for(name, c)[0]["first"] != "memory"]
        for one, other in combinations(read, 2):
            pairs = [
                (a, b) for row in rows if (a := number(row, one)) and (b := number(row, other))
            ]
            if len(pairs) < 5 or all(a == b for a, b in pairs):
                continue
            compared += 1
            least = max((b - 0.51) / a for a, b in pairs)
            most = min((b + 0.51) / a for a, b in pairs)
            shares = [p for p in range(20, 301) if least <= p / 100 <= most]
            assert shares == [], (name, one, other)
    assert compared > 60
