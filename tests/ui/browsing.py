"""A real browser before the served page, for the tests that need one."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import closing, contextmanager

import pytest
from playwright.sync_api import Page, expect

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
REQUIRED = os.environ.get("BROWSER_TESTS") == "required"

#: Patience with a slow machine [ms]; what comes sooner is taken at once.
PATIENCE_MS = 60_000
expect.set_options(timeout=PATIENCE_MS)

needs_browser = pytest.mark.skipif(
    CHROMIUM is None and not REQUIRED, reason="no Chromium on this machine"
)


def wait_until_up(address, seconds=60):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            with closing(urllib.request.urlopen(f"{address}/_stcore/health", timeout=2)):
                return
        except OSError:
            time.sleep(0.2)
    raise TimeoutError(f"nothing answers at {address}")


@contextmanager
def served(*more):
    """Serve the page on a free port, with more options, and yield its address."""
    with serving(*more) as (address, _):
        yield address


@contextmanager
def serving(*more):
    """Serve the page on a free port, and yield its address and its process's number."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-c", "from ui.cli import app; app()", "serve", "--port", str(port)]
    command += more
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        assert f":{port}" in server.stdout.readline()
        wait_until_up(f"http://127.0.0.1:{port}")
        yield f"http://127.0.0.1:{port}", server.pid
    finally:
        server.terminate()
        server.wait(20)
        server.stdout.close()


def says(page: Page, text: str) -> None:
    """Wait until the page says it: while it is drawn anew, what stood there stays beside it."""
    expect(page.get_by_text(text).first).to_be_visible()


def rate(page: Page) -> str:
    value = page.get_by_test_id("stMetricValue")
    expect(value).to_have_count(1)
    settled(page)
    return value.inner_text().strip()


def settled(page: Page) -> None:
    """Wait until the page has been drawn to its end: a menu opened before that closes again."""
    app = page.get_by_test_id("stApp")
    expect(app).to_have_attribute("data-test-script-state", "notRunning")
