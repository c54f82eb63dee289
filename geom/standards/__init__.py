"""Threads, screws, cords and materials: tables as CSV, each row with its source."""
