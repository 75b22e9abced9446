"""Start ridelog in a process of its own, with the modules of this tree."""

from ridelog.cli.main import main

if __name__ == "__main__":
    main()
