"""Many comparisons at once: the share of false alarms among what is called a change is held.

Of twenty comparisons in which nothing has changed one shows a change at 95 %. The procedure of Benjamini and Hochberg
(J. R. Stat. Soc. B 57, 1995) holds the expected share of such among all changes that are reported.
"""

from __future__ import annotations

from collections.abc import Sequence


def adjusted(p: Sequence[float]) -> list[float]:
    """For each p-value (0 to 1) the smallest false discovery rate at which it counts as a discovery, 0 to 1.

    p(i) m / i for the i-th smallest of m, made to grow with i. It holds for independent and for positively dependent
    comparisons.
    """
    order = sorted(range(len(p)), key=lambda at: p[at], reverse=True)
    found, least, many = [1.0] * len(p), 1.0, len(p)
    for rank, at in zip(range(many, 0, -1), order, strict=True):
        least = min(least, p[at] * many / rank)
        found[at] = least
    return found


def thresholds(p: Sequence[float], rate: float) -> tuple[float, float]:
    """The p-values that are low enough to stay a discovery, and to become one more, at this rate of false ones.

    With k of m comparisons being discoveries those are k/m and (k + 1)/m times the rate. The rate itself where there
    are no comparisons, or all are discoveries.
    """
    if not p:
        return rate, rate
    made = sum(value <= rate for value in adjusted(p))
    return rate * made / len(p), rate * min(made + 1, len(p)) / len(p)
