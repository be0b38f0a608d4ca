"""The page: where the dimensions come from, then the answer."""

import streamlit as st

from ui.screens.by_caliper import by_caliper
from ui.screens.look import cautions, heading

st.set_page_config(page_title="Coilreckon", layout="centered")
heading()
by_caliper()
cautions()
