"""Reads a panel file: its shape, its sense, its lines, and the panel that it describes."""
