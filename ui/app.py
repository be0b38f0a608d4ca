"""The page: where the dimensions come from, then the answer; and what was kept."""

from importlib import import_module
from importlib.util import find_spec

import streamlit as st

from ui.collection.trouble import CollectionError
from ui.gate import COOKIE, has_come_in, may_enter
from ui.screens.look import cautions, heading

st.set_page_config(page_title="Coilreckon", layout="centered")
heading(opening=st.query_params.keys() <= {"key"})
shown = str(st.context.cookies.get(COOKIE, ""))
if not (may_enter(st.query_params.get("key")) or has_come_in(shown)):
    st.info("Open the page by its whole address, with the key in it: scan the code once more.")
    # Printed labels hold no key; whoever comes by one types it.
    if may_enter(typed := st.text_input("or type the key")):
        st.query_params["key"] = typed
        st.rerun()
    st.stop()
# Without the seeing (vision.measure) there is only the caliper.
ways = ["Photo", "Caliper"] if find_spec("vision.measure") else ["Caliper"]
ways.append("Collection")
way = st.segmented_control(
    "Where the dimensions come from",
    ways,
    default=ways[0],
    required=True,
    key="by",
    bind="query-params",
    label_visibility="collapsed",
    width="stretch",
)
with st.container(key="body"):
    try:
        if way == "Photo":
            from ui.screens.by_photo import by_photo

            by_photo()
        elif way == "Caliper":
            from ui.screens.by_caliper import by_caliper

            by_caliper()
        else:
            from ui.screens.collection import show_collection

            show_collection()
    except CollectionError as trouble:
        from ui.words import as_told

        st.error(as_told(str(trouble)))
cautions()
# The page stands; what the next tap needs is loaded while the person reads.
for part in ("photo_answer", "by_caliper", "collection"):
    if part != "photo_answer" or "Photo" in ways:
        import_module(f"ui.screens.{part}")
