"""Run the command line as `python -m webapp`."""

from webapp.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
