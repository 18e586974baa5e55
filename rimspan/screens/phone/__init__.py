"""The upload-only page for the studio's phone, served beside the screens; no Streamlit in it."""
