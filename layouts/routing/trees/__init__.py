"""Channels of three and more ends: the least tree, its bound, its cost."""
