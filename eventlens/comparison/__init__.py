"""Before a repair against after it: what is gone, what is less, what cannot be shown yet, how long to watch.

`cut` parts one log; `exposure` is what faults count against; `rates`, `times` and `moved` make one table each.
"""

from eventlens.comparison.build import compare, compare_log, compare_reviews
from eventlens.comparison.result import Comparison

__all__ = ["Comparison", "compare", "compare_log", "compare_reviews"]
