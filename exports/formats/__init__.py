"""One module for each format of file that a CAM program, a printer or a viewer reads."""
