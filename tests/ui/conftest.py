"""A measurement with known numbers, for what is made of one."""

from contextlib import contextmanager
from dataclasses import dataclass, replace

import cv2
import numpy as np
import pytest
import streamlit as st

import ui.measuring
from mechanics.ends import Ends
from mechanics.geometry import SpringGeometry
from tests.ui.browsing import served
from ui.collection.store import URL_VARIABLE
from vision.camera import Camera
from vision.measure import Measurement
from vision.reference import Reference
from vision.scale import Scale


@pytest.fixture
def empty_collection(monkeypatch, tmp_path):
    """Let the page, run in this process, begin with nothing kept and nothing remembered."""
    monkeypatch.setenv(URL_VARIABLE, f"sqlite:///{tmp_path / 'springs.sqlite'}")
    st.cache_resource.clear()
    yield
    st.cache_resource.clear()


@dataclass(frozen=True)
class Seen:
    geometry: SpringGeometry
    kind: str
    hand: str
    scale: Scale | None
    outline_px: tuple
    axis_px: np.ndarray
    taper: float | None
    flags: tuple
    timings_ms: dict
    length_px: np.ndarray | None = None


@pytest.fixture
def seen():
    values = np.array([1.2, 12.0, 9.25, 40.0])
    common = 0.004 * values * [1, 1, 0, 1]
    cov = np.outer(common, common) + np.diag([0.01, 0.02, 0.05, 0.1]) ** 2
    camera = Camera(
        2900.0, np.array([800.0, 450.0]), np.diag([1.0, -1, -1]), np.array([0, 0, 250.0])
    )
    card = np.array([[250.4, 500.2], [750.1, 520.7], [740.3, 830.5], [240.9, 810.8]])
    reference = Reference("card", (85.6, 53.98), 0.07, 0.76, "ISO/IEC 7810 ID-1")
    at = np.linspace(0, 1, 19)
    line = np.column_stack([300.0 + 400 * at, 300 + 60 * (-1.0) ** np.arange(19)])
    half = np.array([5.0, 0.0])
    strip = np.vstack([line + half, (line - half)[::-1]])
    return Seen(
        SpringGeometry(values, cov, Ends.CLOSED),
        "compression",
        "right",
        Scale(camera, (), reference, card, 0.31),
        (strip,),
        np.array([[300.0, 300.0], [700.0, 300.0]]),
        None,
        ("tilted",),
        {"decode": 101.26, "fit": 402.0},
    )


@pytest.fixture
def photo(tmp_path):
    """A photo of nothing, that can be decoded."""
    path = tmp_path / "spring.jpg"
    cv2.imwrite(str(path), np.full((900, 1600, 3), 128, np.uint8))
    return path


@pytest.fixture
def measurement(seen):
    fields = {name: getattr(seen, name) for name in seen.__dataclass_fields__}
    return Measurement(**fields, wire_px=20.0)


@pytest.fixture
def sight(monkeypatch, measurement):
    """Let every photo show the made-up spring, beside a card unless none is asked for."""
    asked = []

    def measure(photo, reference="auto", marks=None):
        asked.append(reference)
        if reference == "none":
            return replace(measurement, scale=None)
        return measurement

    monkeypatch.setattr(ui.measuring, "measure", measure)
    return asked


@pytest.fixture(scope="session")
def address(own_database):
    with served() as address:
        yield address


@pytest.fixture(scope="session")
def window(browser):
    """One window for all pages: to open one computes nearly as much as the page that is in it."""
    window = browser.new_context()
    window.new_page()  # without any page it would close
    yield window
    window.close()


@contextmanager
def opened(window, width, height):
    """Open a page of that size; when it is left, nothing may scroll sideways or have complained.

    What it stored in the browser goes with it, so that the next one begins as in a window of its
    own.
    """
    page = window.new_page()
    page.set_viewport_size({"width": width, "height": height})
    complaints = []
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    try:
        yield page
        sideways = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        inner = "e => e.scrollWidth - e.clientWidth"
        assert sideways <= 0
        assert page.locator('[data-testid="stMain"]').evaluate(inner) <= 0
        assert complaints == []
    finally:
        page.evaluate("localStorage.clear()")
        page.close()
        window.clear_cookies()


#: A phone's window, for which the page is made, and a desk's: what both are asked, and where only
#: the room differs.
SIZES = [
    pytest.param((390, 844), id="phone"),
    pytest.param((1280, 800), id="desk", marks=pytest.mark.thorough),
]


@pytest.fixture(params=SIZES)
def page(window, request):
    with opened(window, *request.param) as page:
        yield page


@pytest.fixture
def phone(window):
    with opened(window, 390, 844) as page:
        yield page
