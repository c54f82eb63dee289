"""``python -m exports`` is the command."""

from exports.cli import main

if __name__ == "__main__":
    main()
