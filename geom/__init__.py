"""Shapes, and what is measured on shapes; knows no panel file and no flow."""
