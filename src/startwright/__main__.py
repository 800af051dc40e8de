"""``python -m startwright``."""

from startwright.cli import main

if __name__ == "__main__":
    main()
