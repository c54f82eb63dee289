"""The lower bound: prices, courses of channels past each other, and what wins guiding new routings."""
