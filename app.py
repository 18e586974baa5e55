"""The screens: ``streamlit run app.py`` does the same as ``rimspan app``."""

from streamlit.starlette import App

from rimspan.screens.serving import MAIN, MIDDLEWARE, ROUTES

app = App(MAIN, routes=ROUTES, middleware=MIDDLEWARE)
