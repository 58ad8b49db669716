"""The build: its bricks, where each of them is, and what touches and holds what."""
