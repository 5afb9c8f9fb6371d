"""Write the OpenAPI document: `python -m sunhitch_service.http.export openapi/openapi.json`.

With `--answers` the examples of answers in it are calculated anew, to be kept or compared.
"""

import argparse
import sys
from pathlib import Path

from sunhitch_service.calculations import calculations
from sunhitch_service.schema import answers
from sunhitch_service.schema.openapi import encoded


def main(arguments: list[str]) -> int:
    """Write the document to the file named, or to standard output, or compare it with the file.

    Parameters
    ----------
    arguments : list of str
        At most one path; ``--check`` compares instead of writing.

    Returns
    -------
    int
        Exit code: 1 if the file, or an example of an answer, is stale.
    """
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("path", nargs="?", type=Path, help="file; standard output if absent")
    parser.add_argument("--check", action="store_true", help="fail if the file is stale")
    parser.add_argument("--answers", action="store_true", help="calculate the examples anew")
    options = parser.parse_args(arguments)
    if options.answers and options.check and (stale := answers.stale()):
        sys.stderr.write(f"stale examples of answers: {', '.join(stale)}; write --answers anew.\n")
        return 1
    if options.answers and not options.check:
        answers.write_anew()
    content = encoded(calculations())
    if options.path is None:
        sys.stdout.buffer.write(content)
    elif not options.check:
        options.path.write_bytes(content)
    elif not options.path.is_file() or options.path.read_bytes() != content:
        sys.stderr.write(f"{options.path} is stale: write it anew without --check.\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
