"""The kinds of CAD export, a file each: how it is read into the scene, and what its numbers mean."""
