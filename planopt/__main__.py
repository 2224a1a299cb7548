"""Run planopt with `python -m planopt`."""

from planopt.cli import main

if __name__ == "__main__":
    main()
