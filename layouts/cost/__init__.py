"""What a panel takes: material, cord, screws, fittings, coolant, hours."""
