"""Run planopt with `python -m planopt`."""

from planopt.start import main

if __name__ == "__main__":
    main()
