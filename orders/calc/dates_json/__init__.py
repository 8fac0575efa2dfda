"""Questions about ship dates as JSON: a shop's state and what is asked of it, read strictly, and the answers written.

`keys` is the table of every key, which the help prints; `reading` makes the state and the questions of a document;
`answering` asks the calculator; `week` writes the proposed week. Pure: text in, plain values for JSON out.
"""
