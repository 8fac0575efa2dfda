"""The invented shop, Harrow Fen Toolworks: every firm, person, mill heat, weight and price in it is made up."""
