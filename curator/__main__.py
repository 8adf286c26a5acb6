"""`python -m curator` is `curator`."""

from curator.cli import main

if __name__ == "__main__":
    main()
