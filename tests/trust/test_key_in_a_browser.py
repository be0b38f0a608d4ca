"""The key in a real browser: asked for once, by whatever address the page is opened."""

from urllib.parse import urlencode

import pytest

from tests.trust.test_strangers import KEY, locked
from tests.ui.browsing import needs_browser, says
from ui.collection.store import URL_VARIABLE

pytestmark = needs_browser
#: As a drawer's label has it: it holds no key.
LABEL = "?by=Collection"


@pytest.fixture
def address(tmp_path, monkeypatch):
    monkeypatch.setenv(URL_VARIABLE, f"sqlite:///{tmp_path / 'springs.sqlite'}")
    with locked() as address:
        yield address


def test_who_has_come_in_by_the_key_is_not_asked_again_and_others_are(browser, address):
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{address}/{LABEL}")
    says(page, "Open the page by its whole address")
    page.get_by_label("or type the key").fill(KEY)
    page.get_by_role("button", name="Open the page").click()
    says(page, "Export and import")
    # The label's address once more, and anew.
    page.goto(f"{address}/{LABEL}")
    says(page, "Export and import")
    assert page.get_by_label("or type the key").count() == 0
    other = browser.new_page(viewport={"width": 390, "height": 844})
    other.goto(f"{address}/?" + urlencode({"by": "Collection", "key": "ebb"}))
    says(other, "This key is not the one")
    page.close()
    other.close()
