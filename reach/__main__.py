"""`python -m reach`."""

from reach.cli import main

if __name__ == "__main__":
    main()
