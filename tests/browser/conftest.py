"""A real browser, and reports for it to open. Where none is found these tests are skipped, unless PERENNIA_BROWSER is
``required``, as it is in CI: then they fail."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest
from filelock import FileLock

import perennia as pn
from perennia.errors import IntakeError
from perennia.report.page import season_report
from perennia.report.pdf import find_browser
from tests.browser.views import View
from tests.demo_gardens import demo_garden
from tests.report.page_gardens import DEMO_DAY, ODD_DAY, odd_garden, one_plant

_SILENT = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
_GARDENS: dict[str, tuple[Callable[[Path], pn.Garden], str]] = {
    "demo": (demo_garden, DEMO_DAY), "odd": (odd_garden, ODD_DAY), "one plant": (one_plant, ODD_DAY),
    "empty": (pn.Garden.create, ODD_DAY),
}  # fmt: skip


def _cannot(reason: str) -> NoReturn:
    if os.environ.get("PERENNIA_BROWSER") == "required":
        pytest.fail(f"PERENNIA_BROWSER=required, but {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Chromium without its window, driven by playwright."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _cannot("playwright is not installed (it comes with the extra test)")
    try:
        executable = find_browser()
    except IntakeError as error:
        _cannot(str(error))
    with sync_playwright() as driver:
        # playwright gives each start a user data directory of its own
        started = driver.chromium.launch(executable_path=executable, args=list(_SILENT))
        yield started
        started.close()


@pytest.fixture(scope="session")
def report_file(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The report of one of the gardens by name, made once for all workers."""
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent

    def made(name: str) -> Path:
        path = shared / f"report of {name}.html"
        with FileLock(shared / f"{name}.lock"):
            if not path.exists():
                make, day = _GARDENS[name]
                with make(shared / f"garden {name}") as garden:
                    page = season_report(garden, today=day)
                path.write_text(page, encoding="utf-8")
        return path

    return made


@pytest.fixture
def opened(browser: Any, report_file: Callable[[str], Path]) -> Iterator[Callable[[str, View], Any]]:
    """Opens a report in a view; the page has the list ``said`` of what its console and the network heard."""
    pages = []

    def open_page(name: str, view: View) -> Any:
        page = browser.new_page(viewport={"width": view.width_px, "height": 900}, color_scheme=view.scheme)
        pages.append(page)
        path = report_file(name)
        page.said = []
        page.on("console", lambda message: page.said.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: page.said.append(f"error: {error}"))
        page.on("request", lambda request: None if request.url == path.as_uri() else page.said.append(request.url))
        page.emulate_media(media=view.media)
        page.goto(path.as_uri())
        return page

    yield open_page
    for page in pages:
        page.close()
