"""Voltages in words, with the basis that each stands on."""

from sunhitch.types.array import ArrangedString

from .amounts import figure


def cold_open_circuit(string: ArrangedString) -> str:
    """Open circuit of a string in the cold, by each method that applies; empty where none does.

    Parameters
    ----------
    string : ArrangedString
        With one voltage, both, or none.
    """
    methods = (
        (string.cold_voc_coefficient_v, "by the panels' coefficient"),
        (string.cold_voc_table_v, "by the rules' table"),
    )
    told = [f"{figure(volts)} V {method}" for volts, method in methods if volts is not None]
    return " and ".join(told)
