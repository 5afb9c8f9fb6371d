"""Look of the workbook, the same in both formats."""

TITLE = "Small build"
BUILD = "Build"
NOTES = "Read first"
COLUMNS = (
    ("What", 44.0),
    ("Value", 46.0),
    ("Unit", 8.0),
    ("US customary", 14.0),
    ("Unit", 8.0),
    ("As fetched", 20.0),
)
"""Name and width in characters of each column."""
NOTE_WIDTH = 110.0
PAGES = 2
"""Pages that the sheet is printed on."""

DECIMALS = "0.00"
"""Answers with a unit; a cell keeps all digits behind it."""

HEADING = "DCE6EC"
ENTRY = "FFF8DC"
LINE = "B0A070"
VERDICTS = {"pass": "CFE8CF", "review": "FFE7A0", "not-assessed": "D9D2E9", "fail": "F4B6B0"}
"""Colours as RRGGBB; the word itself always stands in the cell."""
