"""A build in the file: its bricks as arrays, and what is kept on it."""
