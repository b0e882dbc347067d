"""Dump -> events, and what the log can prove."""
