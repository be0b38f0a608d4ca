"""The collection on the page: keep, find again, recognise, change, delete and undo, hand on."""

from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from tests.ui.collection.springs import made
from ui.collection.exchange import to_json
from ui.collection.store import URL_VARIABLE, Collection

APP = Path(__file__).parents[2] / "ui" / "app.py"


@pytest.fixture
def collection(monkeypatch, tmp_path):
    url = f"sqlite:///{tmp_path / 'springs.sqlite'}"
    monkeypatch.setenv(URL_VARIABLE, url)
    st.cache_resource.clear()
    collection = Collection(url)
    yield collection
    collection.close()
    st.cache_resource.clear()


def page(**query):
    page = AppTest.from_file(str(APP), default_timeout=60)
    for name, value in query.items():
        page.query_params[name] = value
    return page.run()


def text(page):
    return "\n".join(m.value for m in page.markdown)


def field(page, label):
    return next(one for one in [*page.text_input, *page.text_area] if one.label == label)


def button(page, label):
    return next(one for one in page.button if one.label.startswith(label))


def caliper():
    entered = page(by="Caliper")
    for key, value in (("wire", 1.4), ("diameter", 13.0), ("coils", 9.5), ("length", 33.5)):
        entered.number_input(key=key).set_value(value)
    return entered.run()


def test_a_spring_is_kept_and_found_again(collection):
    entered = caliper()
    field(entered, "Name").set_value("Quay 7 front")
    field(entered, "Tags, with commas between").set_value("soft, front")
    button(entered, "Keep it").click().run()
    assert not entered.exception
    (kept,) = collection.find("soft")
    assert kept.spring.name == "Quay 7 front"
    assert kept.spring.tags == ("soft", "front")
    assert kept.spring.wire_mm == pytest.approx(1.4)
    listed = page(by="Collection")
    assert button(listed, "**Quay 7 front**")


def test_without_a_name_nothing_is_kept_and_the_reason_told(collection):
    entered = caliper()
    button(entered, "Keep it").click().run()
    assert "needs a name" in entered.error[0].value
    assert collection.find() == []


def test_a_kept_spring_is_recognised_with_odds(collection):
    collection.keep(made("Quay 7 front", place="drawer 3"))
    collection.keep(made("Slipway", d=0.8, mean=6.0))
    entered = caliper()
    assert not entered.exception
    assert "[Quay 7 front]" in text(entered)
    assert "(drawer 3)" in text(entered)
    assert "none of the 2 kept springs" in text(entered)
    assert "[Slipway]" not in text(entered)


def test_edit_duplicate_delete_and_undo(collection):
    key = collection.keep(made("Quay 7 front"))
    one = page(by="Collection", spring=key)
    field(one, "Notes").set_value("cut by two turns")
    button(one, "Save").click().run()
    assert collection.get(key).spring.notes == "cut by two turns"
    button(one, "Duplicate").click().run()
    assert len(collection.find()) == 2
    one = page(by="Collection", spring=key)
    button(one, "Delete").click().run()
    assert collection.get(key) is None
    assert "Deleted: **Quay 7 front**" in text(one)
    button(one, "Undo").click().run()
    assert not one.exception
    assert collection.get(key).spring.name == "Quay 7 front"


def test_springs_come_in_from_a_file_and_a_wrong_one_is_one_sentence(collection):
    listed = page(by="Collection")
    data = to_json([made("Quay 7 front"), made("Slipway")]).encode()
    listed.get("file_uploader")[0].set_value(("springs.json", data, "application/json"))
    button(listed.run(), "Add 2 springs").click().run()
    assert len(collection.find()) == 2
    listed = page(by="Collection")
    listed.get("file_uploader")[0].set_value(("springs.json", b"milk", "application/json"))
    listed.run()
    assert not listed.exception
    assert "was not read" in listed.error[0].value
