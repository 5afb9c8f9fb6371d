"""Open a spreadsheet in LibreOffice, recalculate it and print its cells; for its own Python.

Usage: libreoffice_cells.py SOFFICE PROFILE FILE. The profile trusts the folder of the file; without
that, and without a reload of outside data, WEBSERVICE gives Err:540.
"""

import json
import subprocess
import sys
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException

_FULL_UPDATE = 3
_TRUST = """\
<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Common/Security/Scripting">
<prop oor:name="SecureURL" oor:op="fuse"><value><it>{folder}</it></value></prop>
</item>
</oor:items>
"""


def main(soffice: str, profile: Path, file: Path) -> None:
    """Print the used cells of the first sheet as JSON, by name."""
    (profile / "user").mkdir(parents=True)
    trusted = _TRUST.format(folder=file.parent.as_uri())
    (profile / "user" / "registrymodifications.xcu").write_text(trusted, "utf-8")
    pipe = f"sunhitch{profile.name}"
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
        sys.stdout.write(json.dumps(_cells(desktop, file.as_uri())))
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


def _cells(desktop: object, url: str) -> dict[str, object]:
    hidden = PropertyValue(Name="Hidden", Value=True)
    update = PropertyValue(Name="UpdateDocMode", Value=_FULL_UPDATE)
    document = desktop.loadComponentFromURL(url, "_blank", 0, (hidden, update))
    document.calculateAll()
    sheet = document.Sheets.getByIndex(0)
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    found: dict[str, object] = {}
    for row in range(cursor.RangeAddress.EndRow + 1):
        for column in range(cursor.RangeAddress.EndColumn + 1):
            cell = sheet.getCellByPosition(column, row)
            found[f"{chr(65 + column)}{row + 1}"] = _value(cell)
    document.close(True)
    return found


def _value(cell: object) -> object:
    if cell.getError():
        return f"Err:{cell.getError()}"
    number = (
        cell.FormulaResultType2 == 1 if cell.Formula.startswith("=") else cell.Type.value == "VALUE"
    )
    return cell.Value if number else cell.String


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))
