"""Kinds of time stamps, a module for each: text, counts since an epoch, ticks, clock bytes; and what they share.

`eventlens.reading.clock` asks them in turn for a whole column. `stamps` is what each hands over, `origin` what is known
beside the column (profile, files), `zones` turns local time into UTC, `doubts` finds clocks that were not set.
"""
