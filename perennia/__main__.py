"""The terminal command as a module: python -m perennia."""

from __future__ import annotations

from perennia.cli import main

if __name__ == "__main__":
    main()
