"""Thin plates under load: closed forms and finite elements. Knows no panel."""
