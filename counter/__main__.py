"""``python -m counter``: the same as the ``counter`` command."""

from counter.cli import main

if __name__ == "__main__":
    main()
