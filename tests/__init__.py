"""A package of its own: some wheels install a top-level folder of this name beside themselves."""
