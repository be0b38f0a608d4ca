"""The step that improves: each reading with its own doubt, a gauge's limit, another photo."""

import re

import pytest

from tests.ui.test_page import enter, page, text
from tests.ui.test_photo_page import shown

__all__ = ["page", "shown"]


def more(page, *labels):
    next(group for group in page.get("button_group") if group.key == "more").set_value(list(labels))
    return page.run()


def went(page):
    """Return the half-widths of the band before and after, in percent."""
    said = "\n".join(caption.value for caption in page.caption)
    return tuple(int(v) for v in re.search(r"from ±(\d+)\s% to ±(\d+)\s%", said).groups())


def test_a_vaguer_reading_brings_less(page):
    enter(page)
    more(page, "Wire, micrometer")
    page.number_input(key="add_micrometer").set_value(1.2).run()
    fine = went(page)[1]
    page.number_input(key="off_micrometer").set_value(0.02).run()
    assert not page.exception
    assert went(page)[1] > fine


@pytest.mark.parametrize(
    ("label", "key", "value"),
    [("Inside", "add_inside", 10.8), ("Wire, caliper", "add_caliper", 1.21)],
)
def test_inside_and_a_caliper_on_the_wire_are_readings_too(page, label, key, value):
    enter(page)
    more(page, label)
    page.number_input(key=key).set_value(value).run()
    assert not page.exception
    before, after = went(page)
    assert after <= before


def test_the_inside_taken_for_the_outside_is_named(page):
    enter(page)
    more(page, "Outside")
    page.number_input(key="add_outside").set_value(10.8).run()
    assert not page.exception
    assert any("inside" in w.value for w in page.warning)


def test_another_photo_of_it_is_one_more_reading_and_a_reload_keeps_it(shown, photo):
    more(shown, "Another photo")
    assert not shown.exception
    # Half of the variance is shared: (3/4)^0.5 is left by two photos, (1/2)^0.5 by any number.
    assert any("87\xa0% of what one photo leaves open" in c.value for c in shown.caption)
    assert any("no less than 71\xa0%" in c.value for c in shown.caption)
    other = photo.read_bytes() + b"\0"  # the same picture, another file
    next(f for f in shown.get("file_uploader") if f.key == "add_photo").set_value(
        ("again.jpg", other, "image/jpeg")
    )
    shown.run()
    assert not shown.exception
    before, after = went(shown)
    # What two photos share does not average away.
    assert 0.7 * before < after <= before
    assert shown.query_params["photo_2"]
    assert "second photo" not in text(shown)


def test_paint_that_was_measured_softens_the_spring(page):
    enter(page)
    more(page, "Paint, plating")
    page.number_input(key="add_paint").set_value(0.05).run()
    assert "bare" not in page.selectbox(key="coat").options
    page.selectbox(key="coat").set_value("painted").run()
    assert not page.exception
    assert not page.error
    bare = float(page.metric[0].value.split()[0])
    page.number_input(key="add_paint").set_value(0.01).run()
    assert float(page.metric[0].value.split()[0]) > bare


def test_travel_counted_from_free_is_asked_where_the_free_length_is_known(page):
    enter(page)
    more(page, "Load test")
    assert "add_load_free" not in [box.key for box in page.checkbox]
    page.number_input(key="length").set_value(45.0).run()
    page.checkbox(key="add_load_free").check().run()
    assert not page.exception
