"""Write the OpenAPI document: `python -m sunhitch_service.http.export openapi/openapi.json`."""

import sys
from pathlib import Path

from .catalogue import catalogue
from .openapi import encoded


def main(arguments: list[str]) -> int:
    """Write the document to the file named, or to standard output.

    Parameters
    ----------
    arguments : list of str
        At most one path.

    Returns
    -------
    int
        Exit code.
    """
    content = encoded(catalogue())
    if arguments:
        Path(arguments[0]).write_bytes(content)
    else:
        sys.stdout.buffer.write(content)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
