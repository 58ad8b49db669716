"""Shots: what a lens shows of a build, and what its plate can hold."""
