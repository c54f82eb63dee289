"""Ports for bleeding and draining: where one may stand, what it would clear, and the built ones."""
