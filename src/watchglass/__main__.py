"""`python -m watchglass`."""

from watchglass.cli import main

if __name__ == "__main__":
    main()
