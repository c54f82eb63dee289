"""SVG pictures: each a module `..._picture`, beside it what it is made of."""
