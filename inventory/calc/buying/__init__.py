"""One supplier's goods bought together: how much of each, what joins, prices, carriage, minimums, room and money."""
