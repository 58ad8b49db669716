"""What the files of an export say, read from their own bytes."""
