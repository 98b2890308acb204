"""The command: ``sheetplan``, and ``python -m sheetplan``."""

import sys


def start() -> None:
    """Run the command line; it is fetched here, so that Ctrl-C before that ends in a sentence too."""
    try:
        from sheetplan.cli import main
    except KeyboardInterrupt:
        print("Stopped. Nothing was changed.")
        sys.exit(130)
    main()


if __name__ == "__main__":
    start()
