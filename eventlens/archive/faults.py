"""What a store of Delta tables refuses, as one sentence of ours."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import polars as pl
import pyarrow as pa

from eventlens.errors import ArchiveError

MESSAGE: Final = 400
"""Characters of what the store says that are shown."""
_COLOUR: Final = re.compile("\x1b\\[[0-9;]*m")


class ConflictError(Exception):
    """Another writer has committed to the same part of the archive since its state was read."""


@contextmanager
def said(root: str, wanted: str) -> Iterator[None]:
    """Turns what the store refuses into one sentence, and a lost race into ConflictError."""
    from deltalake.exceptions import CommitFailedError, DeltaError

    try:
        yield
    except CommitFailedError as fault:
        raise ConflictError(str(fault)) from fault
    except (DeltaError, OSError, pa.ArrowException, pl.exceptions.PolarsError) as fault:
        got = " ".join(_COLOUR.sub("", str(fault)).split())[:MESSAGE] or type(fault).__name__
        remedy = "check path, rights and free space; eventlens archive verify says what is wrong"
        raise ArchiveError(wanted, f"'{got}'", remedy, file=root) from fault
