"""Build the workbook: `python -m sunhitch.workbook small-build.xlsx --service http://…`."""

import argparse
import importlib
import sys
from pathlib import Path

from .formulas import DIALECTS, small_build

_USUAL = "http://127.0.0.1:8000"


def main(arguments: list[str] | None = None) -> int:
    """Write the files named.

    Parameters
    ----------
    arguments : list of str or None
        Command line; that of the process if not given.

    Returns
    -------
    int
        Exit code.
    """
    parser = argparse.ArgumentParser(
        prog="python -m sunhitch.workbook", description="Workbook that sizes a small build."
    )
    parser.add_argument("files", nargs="+", type=Path, help="names that end in .xlsx or .ods")
    parser.add_argument("--service", default=_USUAL, help=f"its address; {_USUAL} if not given")
    chosen = parser.parse_args(arguments)
    for path in chosen.files:
        if path.suffix not in DIALECTS:
            parser.error(f"{path}: end the name in .xlsx or .ods")
    for path in chosen.files:
        try:
            format_ = importlib.import_module(path.suffix, __package__)
        except ModuleNotFoundError as missing:
            parser.error(f"{missing.name} is missing: pip install 'sunhitch[workbook]'")
        sheets = small_build(DIALECTS[path.suffix], chosen.service)
        path.write_bytes(format_.written(sheets))
    return 0


if __name__ == "__main__":
    sys.exit(main())
