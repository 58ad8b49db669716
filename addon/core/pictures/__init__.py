"""Pictures that tell what a table would not."""
