"""One channel on the grid: the compiled search, its ends, its runs, its trace."""
