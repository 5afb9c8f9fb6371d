"""`python -m sunhitch_service` serves; `settings` and `key NAME` are those of the command line."""

import sys

from sunhitch.cli import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or ["serve"]))
