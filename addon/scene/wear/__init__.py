"""What wears in the file: pictures, slots, rounded meshes, values that shaders read."""
