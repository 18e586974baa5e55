"""The pages: each reads the state, makes one call below, and draws."""
