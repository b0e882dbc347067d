"""Weeks against the weeks before, and machines side by side.

`weeks` makes of a review what trends need of it (schema.WEEKS, WEEK_TIMES and WEEK_LIFE; whoever stores these needs no
review any more); `rates`, `times`, `life` and `fleet` make a table each, `build` ties them.
"""

from eventlens.trends.build import trends, trends_of
from eventlens.trends.result import Trends
from eventlens.trends.weeks import Weeks, gather, weeks_of

__all__ = ["Trends", "Weeks", "gather", "trends", "trends_of", "weeks_of"]
