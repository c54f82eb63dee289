"""The exact model of what the bound leaves over, by branch and cut."""
