"""The same numbers as an engineer would script them with pandas: no loop over rows, nothing tuned."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.beside import numbers as n
from tests.benchmarks.beside.numbers import Numbers


def events_of(log: Path) -> Any:
    """The log as a data frame (Time, Tag, State), sorted by time."""
    import pandas as pd  # one of the programs beside ours: not needed to read this module

    if log.suffix == ".parquet":
        frame = pd.read_parquet(log)
        frame["Time"] = frame["Time"].dt.tz_localize(None)
    else:
        frame = pd.read_csv(log, sep=";")
        frame["Time"] = pd.to_datetime(frame["Time"], format="%Y-%m-%d %H:%M:%S.%f")
    frame["Time"] = frame["Time"].astype("datetime64[us]")
    return frame.sort_values("Time", kind="stable")


def runs_of(frame: Any) -> Any:
    """The runs with the times of each, in microseconds."""
    import pandas as pd

    frame["t"] = frame["Time"].astype("int64")
    frame["stop"] = frame.groupby("Tag")["t"].shift(-1)
    on = frame[frame["State"] == 1].dropna(subset=["stop"]).astype({"stop": "int64"})
    runs = on[on["Tag"].isin(["K1", "K2"])].rename(columns={"t": "start"})[["Tag", "start", "stop"]]
    pressed = on[on["Tag"].isin(["S1", "S2"])].assign(Tag=lambda f: f["Tag"].map({"S1": "K1", "S2": "K2"}))
    pressed = pressed.rename(columns={"t": "press", "stop": "let_go"})[["Tag", "press", "let_go"]]
    runs = pd.merge_asof(runs.sort_values("stop"), pressed, left_on="stop", right_on="press", by="Tag")
    runs = runs.sort_values("start")
    for tag, name in (("B3", "released"), ("K3", "fast")):
        edge = on.loc[on["Tag"] == tag, ["t"]].rename(columns={"t": name})
        runs = pd.merge_asof(runs, edge, left_on="start", right_on=name, direction="forward")
    runs["release"] = (runs["released"] - runs["start"]).where(runs["released"] <= runs["stop"])
    runs["step"] = (runs["fast"] - runs["start"]).where(runs["fast"] < runs["stop"])
    runs["pause"] = runs["start"] - runs["stop"].shift(1)
    runs["reversed"] = (runs["Tag"] != runs["Tag"].shift(1)) & runs["pause"].notna()
    runs["dropped"] = runs["let_go"] - runs["stop"] > n.DROPPED_US
    runs["jog"] = (runs["stop"] - runs["start"] < n.JOG_LONGEST_US) & ~runs["dropped"]
    return runs


def numbers(log: Path) -> Numbers:
    """The numbers of a log."""
    import pandas as pd

    runs = runs_of(events_of(log))
    hour = pd.Series(1, index=pd.to_datetime(runs["start"], unit="us")).rolling("3600s").count()
    follows = runs["jog"] & runs["jog"].shift(1, fill_value=False) & (runs["pause"] < n.JOG_PAUSE_US)
    bursts = runs[runs["jog"]].groupby((~follows).cumsum()).size()
    return Numbers(
        runs=len(runs),
        running_us=int((runs["stop"] - runs["start"]).sum()),
        release_median_us=float(runs["release"].median()),
        release_mean_us=round(float(runs["release"].mean())),
        speed_change_median_us=float(runs["step"].median()),
        starts_per_hour_max=int(hour.max()),
        running_of_ten_minutes_max_us=_most_running(runs["start"].to_numpy(), runs["stop"].to_numpy()),
        jogging=int((bursts >= n.JOG_BURST).sum()),
        drop_out=int(runs["dropped"].sum()),
        brake_release_late=int((runs["release"] + n.UNCERTAINTY_US > n.RELEASE_US).sum()),
        speed_change_missing=int((runs["step"] <= n.MISSING_US).sum()),
        speed_change_short=int(((runs["step"] > n.MISSING_US) & (runs["step"] - n.UNCERTAINTY_US < n.SHORT_US)).sum()),
        reversal_without_pause=int((runs["reversed"] & (runs["pause"] - n.UNCERTAINTY_US < n.REVERSAL_US)).sum()),
    )


def _most_running(start: Any, stop: Any) -> int:
    """Most running time in any ten minutes [us]: the running time so far is a curve of straight pieces."""
    corners = np.column_stack((start, stop)).ravel()
    ran = np.column_stack((np.zeros_like(start), stop - start)).ravel().cumsum()
    ends = np.concatenate((stop, start + n.TEN_MINUTES_US))
    begins = ends - n.TEN_MINUTES_US
    # whole numbers below 2**53 come through the interpolation between two corners unharmed, or off by less than a half
    origin = corners[0]
    most = np.interp(ends - origin, corners - origin, ran) - np.interp(begins - origin, corners - origin, ran, left=0.0)
    return round(float(most.max()))
