"""``python -m doe`` does what the command ``doe`` does."""

from doe.cli import main

if __name__ == "__main__":
    main()
