"""Tubes between the panel's ports and those of the parts in the case."""
