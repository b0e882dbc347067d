"""Following a machine as it runs: more of a record comes as time goes by, findings appear as they become certain.

Whoever follows must in the end say what a review of the whole record says. So there is no second implementation of
anything: what came is kept as it came, and looks are reviews of its last part or of all of it.
"""
