"""What the server runs: the page behind its door."""

from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware

from ui.door import Door

app = st.App(Path(__file__).with_name("app.py"), middleware=[Middleware(Door)])
