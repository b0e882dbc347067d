"""Counting statistics: rates with exact limits, comparisons, trends."""
