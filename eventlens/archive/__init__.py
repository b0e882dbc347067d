"""The history of machines on disk: an archive that loses nothing and doubles nothing.

What is kept is the evidence itself, the bytes of every dump with its name, its profile and the machine file; beside
it, for other engines and for reading a short time quickly, the events that the dumps hold together. Two promises
decided this: the review of a period must be byte for byte that of the original dumps (with the same statements, where
people wrote some down), which only the original dumps can give (dialect, order of rows, rows set aside, stamps without
a year: all is decided from whole files); and the same dumps in any order, overlapping or given twice, must make the
same archive, which is so where everything else is a function of the set of dumps. Kept as rows alone, a dump would
have to be read for good on the day it comes, before the next one shows what its last rows mean.

The way: `dumps` (files in and out), `derive` (dumps -> a month), `adding` (one commit), `entries` (what people write)
and `stated` (how it counts), `period` (a part of a log), `spans` (which dumps, which weeks), `weeks` (stored reviews
and what trends need of them), `works` (repairs to compare), `verify`, `export`; `lake` is the store, `tables` its form;
`machines`, `weekly` and `store` are the way in.
"""

from __future__ import annotations

from eventlens.archive.adding import Added
from eventlens.archive.period import review_period, window
from eventlens.archive.store import AddedAll, Archive
from eventlens.archive.verify import Verified
from eventlens.archive.views import COLUMNS

__all__ = ["COLUMNS", "Added", "AddedAll", "Archive", "Verified", "review_period", "window"]
