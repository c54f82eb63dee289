"""The wet volume as voxels, and what gravity makes of it: where air stays, where coolant stays, what fills first."""
