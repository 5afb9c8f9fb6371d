"""An answer as flat XML."""

import xml.etree.ElementTree as ET
from collections.abc import Mapping

from sunhitch_service.drawing.columns import Value, plain
from sunhitch_service.engine.stamp import stamp


def as_xml(row: Mapping[str, Value]) -> bytes:
    """One element for each value, which spreadsheets read by path: ``//loss_w``, ``/*/@version``.

    Parameters
    ----------
    row : mapping
        Values by name; an absent one is an empty element.
    """
    engine = stamp()
    answer = ET.Element("answer", version=engine.version, data_sha256=engine.data_sha256)
    for name, value in row.items():
        ET.SubElement(answer, name).text = "" if value is None else plain(value)
    told: bytes = ET.tostring(answer, encoding="utf-8", xml_declaration=True)
    return told
