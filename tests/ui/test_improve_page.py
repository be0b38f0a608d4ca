"""The step that improves: each reading with its own doubt, a gauge's limit, another photo."""

import re
from dataclasses import replace

import pytest

import ui.measuring
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


def copies(photo, count):
    """Return the same picture in so many files that differ."""
    return [photo.read_bytes() + b"\0" * k for k in range(1, count + 1)]


def add(page, files):
    place = next(f for f in page.get("file_uploader") if f.label == "Another photo of it")
    place.set_value([(f"{len(data)}.jpg", data, "image/jpeg") for data in files])
    page.run()
    assert not page.exception


@pytest.fixture
def shows(monkeypatch, measurement):
    """Let photos show wire thicker by a factor, by their numbers, all others the same spring."""

    def show(factors):
        seen = {}

        def measure(photo, reference="auto", marks=None):
            place = seen.setdefault(photo.sha256, len(seen) + 2)
            values = measurement.geometry.values * [factors.get(place, 1.0), 1, 1, 1]
            return replace(measurement, geometry=replace(measurement.geometry, values=values))

        monkeypatch.setattr(ui.measuring, "measure", measure)

    return show


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
    add(shown, copies(photo, 1))
    before, after = went(shown)
    # What two photos share does not average away.
    assert 0.7 * before < after <= before
    assert len(shown.query_params["photos"]) == 64  # one hash
    assert "| photo 2 |" in text(shown)


def test_further_photos_come_one_after_the_other_up_to_seven(shown, photo):
    more(shown, "Another photo")
    for k in range(1, 7):
        add(shown, copies(photo, k)[-1:])
    said = text(shown)
    assert all(f"| photo {k} |" in said for k in range(1, 8))
    assert "| **together** |" in said
    assert [box.label for box in shown.expander if box.label.startswith("Photo ")] == [
        f"Photo {k}: counts" for k in range(2, 8)
    ]
    before, after = went(shown)
    assert after <= before
    add(shown, copies(photo, 7)[-1:])
    assert not [f for f in shown.get("file_uploader") if f.label == "Another photo of it"]
    assert any("No more than 8 photos" in c.value for c in shown.caption)


def test_several_at_once_and_the_same_one_twice(shown, photo):
    more(shown, "Another photo")
    add(shown, [*copies(photo, 2), *copies(photo, 1), photo.read_bytes()])
    assert "| photo 3 |" in text(shown)
    assert "| photo 4 |" not in text(shown)
    add(shown, copies(photo, 1))
    assert any("is there already" in i.value for i in shown.info)
    assert "| photo 4 |" not in text(shown)


def test_a_photo_can_be_taken_out_again(shown, photo):
    more(shown, "Another photo")
    add(shown, copies(photo, 1))
    next(b for b in shown.button if b.label == "Take it out").click().run()
    assert not shown.exception
    assert "photos" not in shown.query_params
    assert "| photo 2 |" not in text(shown)


def test_the_photo_that_does_not_go_with_the_others_is_named(shown, photo, shows):
    more(shown, "Another photo")
    shows({3: 1.3})
    add(shown, copies(photo, 3))
    assert [box.label for box in shown.expander if box.label.startswith("Photo ")] == [
        "Photo 2: counts", "Photo 3: left out", "Photo 4: counts"
    ]  # fmt: skip
    assert any("Photo 3 does not go with the others" in w.value for w in shown.warning)


def test_of_two_that_differ_nothing_tells_which_is_wrong(shown, photo, shows):
    more(shown, "Another photo")
    shows({2: 1.3})
    add(shown, copies(photo, 1))
    said = [w.value for w in shown.warning]
    assert any("a third would" in one for one in said)
    assert any("look at each drawing" in one for one in said)


def test_where_no_majority_agrees_the_farthest_is_named(shown, photo, shows):
    more(shown, "Another photo")
    shows({2: 1.1, 3: 2.0, 4: 1.3})
    add(shown, copies(photo, 3))
    assert any("Photo 3 lies farthest" in w.value for w in shown.warning)


def test_photos_beside_a_caliper_are_one_reading(page, sight, photo):
    enter(page)
    more(page, "Another photo")
    add(page, copies(photo, 2))
    assert "| photo 1 |" in text(page)
    before, after = went(page)
    assert after <= before


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
