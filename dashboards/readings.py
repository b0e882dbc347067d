"""One sentence under each chart: what it shows here, in numbers."""

from __future__ import annotations

from dashboards import words
from dashboards.tables import DutyView, LanesView, Mark


def lanes(view: LanesView, mark: Mark | None) -> str:
    """What the lanes show of their window."""
    seconds = (view.window[1] - view.window[0]) / 1000
    if view.intervals is not None:
        how = f"every interval is drawn exactly ({words.counted(view.intervals.height, 'interval')})"
    else:
        step = words.length(seconds / view.bins)
        how = f"each point stands for {step} and is a block if the signal was on for any part of it"
    count = words.counted(len(view.lanes) + len(view.measures), "signal")
    doubt = " Hatched: state not known." if view.unknown.height else ""
    chosen = f" Marked: {mark.label}." if mark else ""
    return f"{words.length(seconds)} of {count}; {how}.{doubt}{chosen}"


def starts(view: DutyView) -> str:
    """The busiest hour against the limit."""
    if view.peak is None:
        return f"No start of the {view.motion} is in this log."
    most = f"At most {words.number(view.peak)} starts of the {view.motion} in any hour (first at {view.peak_at})"
    return most + _against(view, 1, "starts per hour")


def cyclic(view: DutyView) -> str:
    """The largest share of running time against the limit."""
    window = words.length(view.window_s)
    if view.peak is None:
        return f"The {view.motion} does not run in this log."
    most = f"The {view.motion} runs at most {100 * view.peak:.1f} % of any {window} (first at {view.peak_at})"
    return most + _against(view, 100, "% of the window")


def _against(view: DutyView, scale: float, unit: str) -> str:
    doubt = " Windows that reach over a hole in the log show a proven minimum." if view.holes else ""
    if view.limit is None:
        return f"; no limit to hold it against: {view.source}.{doubt}"
    limit = f"{words.number(round(view.limit * scale, 3))} {unit} ({view.source})"
    if view.above:
        return f"; above the limit of {limit} in {words.counted(view.above, 'stretch', 'stretches')}.{doubt}"
    return f"; within the limit of {limit}.{doubt}"
