"""Weeks against the weeks before, and machines side by side.

`weeks` makes of a review what trends need of it (schema.WEEKS, WEEK_TIMES, WEEK_LIFE and WEEK_WORK, that by `worked`;
whoever stores these needs no review any more); `rates`, `times`, `life`, `work` and `fleet` make a table each, `build`
ties them.
"""

from eventlens.trends.build import trends, trends_of
from eventlens.trends.result import Trends
from eventlens.trends.weeks import Weeks, gather, weeks_of
from eventlens.trends.work import WorkTrends

__all__ = ["Trends", "Weeks", "WorkTrends", "gather", "trends", "trends_of", "weeks_of"]
