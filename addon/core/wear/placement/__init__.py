"""Where hands and falling dust get to: for each brick and each side of it, from what else of the build is in the way."""
