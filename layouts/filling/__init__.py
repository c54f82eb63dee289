"""How a panel fills, bleeds and drains: what its real wet volume does under gravity, and with the pump running."""
