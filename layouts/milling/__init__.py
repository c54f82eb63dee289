"""How a milled panel is cut: set-ups, pockets, holes, cutters, time; plain values, no kernel."""
