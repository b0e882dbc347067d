"""What may lie behind a finding: causes, the evidence for and against each, and the checks that settle it.

`knowledge/` holds it as data, `facts` loads it.
"""
