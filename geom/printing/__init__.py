"""Meshes as they are printed: how they lie, threads, offsets."""
