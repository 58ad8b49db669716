"""Where hands and falling dust get to: for each brick and side, from what else of the build is in the way."""
