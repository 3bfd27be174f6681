"""The script that Streamlit runs, alone in its folder.

Beside a folder ``pages`` Streamlit would run those files as pages of their own, and show nothing.
"""
