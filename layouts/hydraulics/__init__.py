"""Coolant, friction, losses, pump and network, in SI; knows nothing of grids or routes."""
