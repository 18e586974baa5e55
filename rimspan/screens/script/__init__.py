"""The script that Streamlit runs, in a folder of its own.

Beside ``pages/`` Streamlit would take those modules for scripts and run them one by one.
"""
