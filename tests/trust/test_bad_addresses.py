"""Any address: the page opens, with what it can make of it, and never with a traceback."""

from pathlib import Path

import pytest
import streamlit as st
from hypothesis import given
from hypothesis import strategies as hs
from streamlit.testing.v1 import AppTest

from tests.trust.fuzzing import fuzz
from tests.ui.collection.springs import made
from ui.collection.store import URL_VARIABLE, Collection
from ui.screens.by_photo import SAMPLE, photo_store

APP = Path(__file__).parents[2] / "ui" / "app.py"

#: What stands in addresses of the page, and what belongs there; a stranger writes anything.
NAMES = {
    "by": ["Photo", "Caliper", "Collection"],
    "kind": ["torsion", "conical", "compression"],
    "wire": ["1.2", "0.01"],
    "wire_in": ["0.05"],
    "diameter": ["13.2", "1"],
    "across": ["outside", "inside"],
    "coils": ["9", "0.5"],
    "length": ["38", "10000"],
    "ends": ["closed", "hooks"],
    "small_end": ["9"],
    "u_wire": ["0", "99"],
    "leg_1": ["20"],
    "material": ["music wire"],
    "unit": ["lb/in"],
    "lengths": ["in"],
    "step": ["What if", "Limits"],
    "flat": ["true"],
    "side_across": ["2", "900"],
    "side_along": ["1"],
    "whatif": ["Cut", "Shim", "Sag"],
    "cut_turns": ["2", "900"],
    "cut_load": ["5"],
    "stretch_seat": ["30"],
    "shim_seat": ["30"],
    "shim_mm": ["2", "40"],
    "corner_load": ["6"],
    "corner_lever": ["0", "1.4"],
    "corner_droop": ["37"],
    "corner_bump": ["20", "50"],
    "other": ["another one like it", "Quay 7 front"],
    "nested_load": ["5"],
    "at_travel": ["5", "500"],
    "runs": ["3/2, 4/5", "3/0.1", "0/0", "1e999/2"],
    "seating": ["both ends hinged"],
    "more": ["Weight", "Another photo", "Load test"],
    "add_weight": ["2.8", "9000"],
    "off_weight": ["0", "99"],
    "photos": ["{photo}", "0417", "{photo},0417", ",,"],
    "own_unit": ["in"],
    "rate_from": ["3"],
    "rate_to": ["1"],
    "find": ["quay"],
    "sort": ["rate"],
    "spring": ["0417", "{spring}"],
    "photo": ["0417", "{photo}"],
    "reference": ["coin", "self", "none", "sheet"],
    "currency": ["EUR"],
    "own_mm": ["14"],
    "mark": ["The spring", "The reference"],
    "spring_at": ["100, 100; 900, 400", "1, 1", "9e9"],
    "reference_at": ["1,1;9,9", "1,1; 900,9; 900,700; 2,700"],
    "apart_mm": ["20", "nan", "1e999"],
    "is_kind": ["conical", "torsion"],
    "is_turns": ["1000", "3"],
    "label": ["own size"],
    "key": ["guess"],
}
ODD = hs.one_of(
    hs.text(hs.characters(exclude_categories=("Cs",)), max_size=12),
    hs.sampled_from(["", "nan", "inf", "-1", "1e999", "9" * 400, "<b>", "../..", "%00", "=1+1"]),
)
ADDRESS = hs.dictionaries(
    hs.sampled_from(sorted(NAMES)), hs.tuples(hs.integers(0, 3), ODD), min_size=1, max_size=8
)


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    url = f"sqlite:///{tmp_path_factory.mktemp('kept') / 'springs.sqlite'}"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(URL_VARIABLE, url)
        st.cache_resource.clear()
        collection = Collection(url)
        key = collection.keep(made())
        collection.close()
        yield {"spring": key, "photo": photo_store().put(SAMPLE.read_bytes(), SAMPLE.name)}
    st.cache_resource.clear()


@fuzz(0.15)
@given(hs.sampled_from(["Photo", "Caliper", "Collection"]), ADDRESS)
def test_any_address_opens_the_page(kept, by, address):
    page = AppTest.from_file(str(APP), default_timeout=60)
    page.query_params["by"] = by
    for name, (which, odd) in address.items():
        usual = NAMES[name]
        text = usual[which].format(**kept) if which < len(usual) else odd
        page.query_params[name] = text
    page.run()
    assert not page.exception, [one.value for one in page.exception]
    for told in page.error:
        assert told.value.endswith((".", "?"))
