"""The sheets that a panel is made, assembled, filled and tested by: their content, and one PDF of all."""
