"""Counting the stock while people go on working: what is due, how far a count may be off, how right the book is."""
