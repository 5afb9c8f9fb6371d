"""Open a spreadsheet in LibreOffice, change cells one by one, print the others; for its own Python.

Usage: libreoffice_cells.py SOFFICE PROFILE FILE LOCALE [PDF], changes as JSON on standard input:
a list of `[sheet, cell, value]`. Prints a list of cells by `sheet.cell`: at first, and after each
change alone. The profile trusts the folder of the file; without that, and without a reload of
outside data, WEBSERVICE gives Err:540.
"""

import json
import os
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.lang import DisposedException

_FULL_UPDATE = 3
_SETTINGS = """\
<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Common/Security/Scripting">
<prop oor:name="SecureURL" oor:op="fuse"><value><it>{folder}</it></value></prop>
</item>
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{locale}</value></prop>
</item>
</oor:items>
"""


def main(soffice: str, profile: Path, file: Path, locale: str, pdf: str = "") -> None:
    """Print the used cells of every sheet, at first and after every change."""
    (profile / "user").mkdir(parents=True)
    settings = _SETTINGS.format(folder=file.parent.as_uri(), locale=locale)
    (profile / "user" / "registrymodifications.xcu").write_text(settings, "utf-8")
    pipe = f"sunhitch{os.getpid()}"  # tests beside this one have profiles of the same name
    office = subprocess.Popen(
        [
            soffice,
            "--headless",
            "--norestore",
            "--nologo",
            f"-env:UserInstallation={profile.as_uri()}",
            f"--accept=pipe,name={pipe};urp",
        ],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        desktop = _desktop(pipe)
        hidden = PropertyValue(Name="Hidden", Value=True)
        update = PropertyValue(Name="UpdateDocMode", Value=_FULL_UPDATE)
        document = desktop.loadComponentFromURL(file.as_uri(), "_blank", 0, (hidden, update))
        document.calculateAll()
        found = [_cells(document)]
        found += [_changed(document, *change) for change in json.load(sys.stdin)]
        if pdf:
            written = PropertyValue(Name="FilterName", Value="calc_pdf_Export")
            document.storeToURL(Path(pdf).as_uri(), (written,))
        sys.stdout.write(json.dumps(found))
        document.close(True)
        with suppress(DisposedException):  # it may be gone before it has answered
            desktop.terminate()
        office.wait(30)
    finally:
        office.kill()


def _desktop(pipe: str) -> object:
    here = uno.getComponentContext()
    resolver = here.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", here
    )
    address = f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext"
    for _ in range(600):
        try:
            there = resolver.resolve(address)
        except NoConnectException:
            time.sleep(0.1)
        else:
            return there.ServiceManager.createInstanceWithContext(
                "com.sun.star.frame.Desktop", there
            )
    raise SystemExit("LibreOffice did not start")


def _changed(document: object, sheet: str, place: str, value: float | str) -> dict[str, object]:
    """Cells while one of them holds something else."""
    cell = document.Sheets.getByName(sheet).getCellRangeByName(place)
    number, before = cell.Type.value == "VALUE", (cell.Value, cell.String)
    _put(cell, value)
    document.calculate()
    found = _cells(document)
    _put(cell, before[0] if number else before[1])
    return found


def _put(cell: object, value: float | str) -> None:
    if isinstance(value, str):
        cell.String = value
    else:
        cell.Value = value


def _cells(document: object) -> dict[str, object]:
    found: dict[str, object] = {}
    for name in document.Sheets.ElementNames:
        sheet = document.Sheets.getByName(name)
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        end = cursor.RangeAddress
        area = sheet.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow)
        for row, values in enumerate(area.DataArray):
            for column, value in enumerate(values):
                cell = f"{name}.{chr(65 + column)}{row + 1}"
                # An error has no value of its own here.
                found[cell] = value if isinstance(value, str | float) else "error"
    return found


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]), *sys.argv[4:])
