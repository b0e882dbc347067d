"""Types of what the statistics take and return."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Numbers: TypeAlias = Sequence[float] | NDArray[Any]
"""Whole or broken numbers, one after another."""
