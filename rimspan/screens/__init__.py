"""The screens: Streamlit pages for a consultation at the chair."""
