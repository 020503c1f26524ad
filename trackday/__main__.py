"""`python -m trackday`."""

from trackday.cli import main

if __name__ == "__main__":
    main()
