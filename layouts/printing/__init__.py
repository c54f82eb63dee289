"""How a printed panel is printed: how it lies, its roofs, the process, splitting it; plain values, no kernel."""
