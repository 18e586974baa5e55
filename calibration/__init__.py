"""A photo with a printed card in it becomes a camera, a pose and millimetres."""
