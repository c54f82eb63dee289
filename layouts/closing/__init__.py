"""How body and covers are closed: cords and their grooves, bonded lands, screws and clamps."""
