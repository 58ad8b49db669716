"""Motions on the bricks, and the way back."""
