"""Example panels, invented for demonstration, each made and tested."""
