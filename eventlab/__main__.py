"""``python -m eventlab``."""

from eventlab.cli import main

if __name__ == "__main__":
    main()
