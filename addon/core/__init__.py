"""The maths of the tool: standard library and numpy only, millimetres and radians throughout."""
