"""What there is once in a run: a browser, and a collection that is not the user's."""

import pytest
from hypothesis import settings

from tests.ui.browsing import CHROMIUM

#: Names a database other than the user's; as in `ui.collection.store`, which is heavy to load.
URL_VARIABLE = "COILRECKON_DATABASE"

# How long an example takes tells of the machine, not of the program. Fuzzing sets its own limits.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(autouse=True, scope="session")
def own_database(tmp_path_factory):
    """Keep the tests' springs out of the user's own collection."""
    url = f"sqlite:///{tmp_path_factory.mktemp('collection') / 'springs.sqlite'}"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(URL_VARIABLE, url)
        yield url


@pytest.fixture(scope="session")
def browser():
    assert CHROMIUM, "BROWSER_TESTS=required, but there is no Chromium"
    from playwright.sync_api import sync_playwright

    with sync_playwright() as p:
        browser = p.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()
