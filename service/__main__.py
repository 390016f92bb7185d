"""python -m service: the back door."""

import sys

from service.cli import main

if __name__ == "__main__":
    sys.exit(main())
