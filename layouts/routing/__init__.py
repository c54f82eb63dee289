"""Channels on the grid: the instance, the search, its bound, its verifier, its reasons."""
