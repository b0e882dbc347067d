"""The same numbers worked out in other ways from the same file, and how long each takes.

`log` writes a long working life; `ours` is the review, `floor` the least that any reader does; `duck` (SQL), `frames`
(a script as an engineer would write it) and `mining` (process mining, what it can do of it) are held beside it.
`numbers` says what all of them have to agree on, to the last start.
"""
