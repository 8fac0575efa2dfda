"""What the owner does to people, tablets, keys and links, and how someone comes in."""
