"""``python -m oneline`` is the same as ``oneline``."""

from oneline.start import main

if __name__ == "__main__":
    raise SystemExit(main())
