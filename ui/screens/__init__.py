"""The page's parts, one job each; what they compute lives outside Streamlit."""
