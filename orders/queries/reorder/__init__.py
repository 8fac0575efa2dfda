"""What to order and what to make, from what is wanted: demand through the recipes, what there is of it, lead times."""
