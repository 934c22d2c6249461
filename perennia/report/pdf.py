"""A page on paper: an HTML page printed to PDF by a browser of the Chromium family, without its window."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from perennia.errors import IntakeError
from perennia.intake.new_file import new_path, write_new

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
"""Names under which such a browser is looked for on the path."""
_QUIET = (
    "--headless", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
_SECONDS = 180


def write_pdf(page: str, path: str | Path) -> Path:
    """Print an HTML page that needs nothing but itself into a new file that ends in .pdf, and return its path.

    Raises IntakeError where no browser is found, the browser makes no PDF, the file is there already, its name ends
    otherwise, or it cannot be written.
    """
    named = new_path(path, ".pdf", "a printed page")
    write_new(named, _printed(page, find_browser()))
    return named


def find_browser() -> str:
    """The browser to print with. Raises IntakeError where there is none."""
    found = next((path for path in map(shutil.which, BROWSERS) if path is not None), None)
    if found is None:
        raise IntakeError(
            "a PDF needs a browser to print it, and none is installed here under the names "
            f"{', '.join(BROWSERS)}; install Chromium, or open the HTML page in your own browser and print it there"
        )
    return found


def _printed(page: str, browser: str) -> bytes:
    # a user data directory of its own, so that no browser that is open is met
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "page.html").write_text(page, encoding="utf-8")
        made = folder / "page.pdf"
        command = [browser, *_QUIET, f"--user-data-dir={folder / 'profile'}", "--no-pdf-header-footer",
                   f"--print-to-pdf={made}", (folder / "page.html").as_uri()]  # fmt: skip
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            # Chromium's sandbox refuses to run for root; the page is our own and holds no script
            command.insert(1, "--no-sandbox")
        said = _run(command, browser)
        if not made.exists():
            raise IntakeError(f"{browser} made no PDF; it said: {said or 'nothing'}")
        return made.read_bytes()


def _run(command: list[str], browser: str) -> str:
    """What the browser said at the last. Raises IntakeError where it does not start or does not end."""
    try:
        done: Any = subprocess.run(
            command, capture_output=True, text=True, errors="replace", timeout=_SECONDS, check=False
        )
    except subprocess.TimeoutExpired as error:
        raise IntakeError(f"{browser} did not end within {_SECONDS} s; print the HTML page from it yourself") from error
    except OSError as error:
        raise IntakeError(f"{browser} cannot be started ({error}); print the HTML page from another") from error
    lines = [line for line in done.stderr.splitlines() if line.strip()]
    return lines[-1] if lines else ""
