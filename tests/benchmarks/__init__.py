"""Measurements that are run by hand, with their own tests."""
