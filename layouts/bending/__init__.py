"""Plates under load: closed forms of thin ones, finite elements with shear. Knows no panel."""
