"""What the pages are given. The modules of this folder are the only ones here that know eventlens.

`source` opens a review or an archive, `week` makes one review ready to be looked at, `history` the weeks of an archive.
Their frames stay on the server.
"""

from dashboards.data.history import History
from dashboards.data.source import Archive, Building, Fault, Source, StateFolder, source_of
from dashboards.data.week import INTRODUCTION, Causes, Complaint, NextCheck, Review, Told, Week

__all__ = [
    "INTRODUCTION",
    "Archive",
    "Building",
    "Causes",
    "Complaint",
    "Fault",
    "History",
    "NextCheck",
    "Review",
    "Source",
    "StateFolder",
    "Told",
    "Week",
    "source_of",
]
