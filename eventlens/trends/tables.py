"""The tables that trends come out as. What they come from is schema.WEEKS and schema.WEEK_TIMES."""

from __future__ import annotations

from typing import Final

import polars as pl

from eventlens.schema import MOTION, SEVERITY, TIME, Column, Table

TREND_VERDICTS: Final = ("rising", "falling", "uneven", "not_shown", "too_little")
TRENDS: Final = Table(
    "trends",
    {
        "machine": Column(pl.String(), "which machine"),
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion; null: the machine as a whole", True),
        "severity": Column(SEVERITY, "what its findings ask for"),
        "exposure": Column(pl.String(), "what it is counted against (patterns.EXPOSURES)"),
        "weeks": Column(pl.UInt32(), "weeks with use in which it could be judged alike"),
        "count": Column(pl.UInt32(), "occurrences in them"),
        "amount": Column(pl.Float64(), "use in them, in the unit of the exposure"),
        "rate": Column(pl.Float64(), "count over use", True),
        "rate_low": Column(pl.Float64(), "its exact limits at the level of the trends, bursts allowed for", True),
        "rate_high": Column(pl.Float64(), "its upper limit", True),
        "always_low": Column(pl.Float64(), "its bounds that hold at every look (statistics.anytime)", True),
        "always_high": Column(pl.Float64(), "its upper limit", True),
        "spread": Column(pl.Float64(), "variance of the counts over their mean, 1 or more (statistics.bursts)"),
        "beyond": Column(pl.List(pl.String()), "weeks beyond the limits of the u chart"),
        "run": Column(pl.List(pl.String()), "first and last week of a run on one side of the mean; empty: none"),
        "u": Column(pl.Float64(), "Laplace's U: above 0 it comes oftener", True),
        "beta": Column(pl.Float64(), "exponent of the power law; 1: no trend", True),
        "p_chart": Column(pl.Float64(), "p-value of the most unusual week for as many weeks as there are"),
        "p_growth": Column(pl.Float64(), "p-value of Laplace's test"),
        "p": Column(pl.Float64(), "of the smaller one for two tests"),
        "p_adjusted": Column(pl.Float64(), "the same for all patterns and machines (false discovery rate)"),
        "verdict": Column(pl.Enum(TREND_VERDICTS), "what the weeks show"),
        "past_count": Column(pl.UInt32(), "occurrences before the last weeks (trends.RECENT)"),
        "past_amount": Column(pl.Float64(), "use before them"),
        "recent_count": Column(pl.UInt32(), "occurrences in the last weeks"),
        "recent_amount": Column(pl.Float64(), "use in them"),
        "ratio": Column(pl.Float64(), "rate of the last weeks over that before; null: none before, or no use", True),
        "ratio_low": Column(pl.Float64(), "its exact limits", True),
        "ratio_high": Column(pl.Float64(), "null: without bound", True),
        "smallest_rise": Column(pl.Float64(), "ratio from which on a rise would have been shown", True),
        "smallest_fall": Column(pl.Float64(), "ratio down to which a fall had to go to be shown; null: none can", True),
    },
    sort=("verdict", "severity", "machine", "pattern", "motion"),
)
"""Each pattern of each machine over the weeks."""

TREND_WEEKS: Final = Table(
    "trend_weeks",
    {
        "machine": Column(pl.String(), "which machine"),
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion; null: the machine as a whole", True),
        "week": Column(pl.String(), "ISO week"),
        "judged": Column(pl.Boolean(), "false: could not be judged as the latest week was; not on the chart"),
        "count": Column(pl.UInt32(), "occurrences"),
        "amount": Column(pl.Float64(), "use, in the unit of the exposure"),
        "rate": Column(pl.Float64(), "count over use", True),
        "rate_low": Column(pl.Float64(), "exact lower limit", True),
        "rate_high": Column(pl.Float64(), "its upper limit", True),
        "chart_low": Column(pl.Float64(), "lowest rate that is no alarm", True),
        "chart_high": Column(pl.Float64(), "highest", True),
        "beyond": Column(pl.Int8(), "1 above, -1 below the limits of the chart"),
        "little": Column(pl.Boolean(), "so little use that it could show next to nothing"),
        "observed_h_rate": Column(pl.Float64(), "per observed hour", True),
        "observed_h_low": Column(pl.Float64(), "exact lower limit", True),
        "observed_h_high": Column(pl.Float64(), "its upper limit", True),
        "running_h_rate": Column(pl.Float64(), "per running hour", True),
        "running_h_low": Column(pl.Float64(), "exact lower limit", True),
        "running_h_high": Column(pl.Float64(), "its upper limit", True),
        "lifts_rate": Column(pl.Float64(), "per 100 lifts", True),
        "lifts_low": Column(pl.Float64(), "exact lower limit", True),
        "lifts_high": Column(pl.Float64(), "its upper limit", True),
    },
    sort=("machine", "pattern", "motion", "week"),
)

DRIFT_VERDICTS: Final = ("longer", "shorter", "not_shown", "too_little")
DRIFTS: Final = Table(
    "drifts",
    {
        "machine": Column(pl.String(), "which machine"),
        "motion": Column(MOTION, "motion"),
        "time": Column(pl.String(), "which measured time of a run (a column of runs)"),
        "weeks": Column(pl.UInt32(), "weeks with it"),
        "first_s": Column(pl.Float64(), "median of the first week [s]"),
        "last_s": Column(pl.Float64(), "median of the last week [s]"),
        "slope_s_per_week": Column(pl.Float64(), "robust slope of the weekly medians [s/week]", True),
        "slope_low": Column(pl.Float64(), "its lower limit", True),
        "slope_high": Column(pl.Float64(), "its upper limit", True),
        "p_slope": Column(pl.Float64(), "Mann-Kendall", True),
        "change": Column(pl.String(), "first week of the new level, most likely", True),
        "change_first": Column(pl.String(), "its lower limit", True),
        "change_last": Column(pl.String(), "its upper limit", True),
        "before_s": Column(pl.Float64(), "median before it [s]", True),
        "after_s": Column(pl.Float64(), "median since [s]", True),
        "p_change": Column(pl.Float64(), "by permutation", True),
        "p": Column(pl.Float64(), "of the smaller one for two tests", True),
        "p_adjusted": Column(pl.Float64(), "the same for all times and machines (false discovery rate)", True),
        "shape": Column(pl.Enum(("slope", "step")), "which of the two describes it better", True),
        "verdict": Column(pl.Enum(DRIFT_VERDICTS), "which way it went, by a log step at least"),
        "work": Column(pl.String(), "week of the latest written-down work that enough weeks lie before", True),
        "work_first": Column(pl.String(), "first week of those before it", True),
        "work_first_s": Column(pl.Float64(), "its median [s]", True),
        "work_last_s": Column(pl.Float64(), "median of the last of them [s]", True),
        "work_slope_s_per_week": Column(pl.Float64(), "robust slope of them [s/week]", True),
        "work_slope_low": Column(pl.Float64(), "its lower limit", True),
        "work_slope_high": Column(pl.Float64(), "its upper limit", True),
        "work_p": Column(pl.Float64(), "Mann-Kendall", True),
        "work_p_adjusted": Column(pl.Float64(), "adjusted together with p", True),
        "work_verdict": Column(pl.Enum(DRIFT_VERDICTS), "which way it went until the work", True),
    },
    sort=("verdict", "machine", "motion", "time"),
)
"""Each measured time of each machine over the weeks."""

FUNNEL: Final = Table(
    "funnel",
    {
        "pattern": Column(pl.String(), "which pattern"),
        "motion": Column(MOTION, "motion; null: the machine as a whole", True),
        "exposure": Column(pl.String(), "what it is counted against"),
        "machine": Column(pl.String(), "which machine"),
        "count": Column(pl.UInt32(), "occurrences in the last weeks (trends.RECENT)"),
        "amount": Column(pl.Float64(), "use in them"),
        "rate": Column(pl.Float64(), "count over use"),
        "centre": Column(pl.Float64(), "rate of all machines together"),
        "low": Column(pl.Float64(), "inner lower funnel limit at this use (95 %)"),
        "high": Column(pl.Float64(), "upper one"),
        "low_outer": Column(pl.Float64(), "outer lower funnel limit (99.8 %)"),
        "high_outer": Column(pl.Float64(), "upper one"),
        "spread": Column(pl.Float64(), "by what machines vary more than chance, 1 or more"),
        "beyond": Column(pl.Int8(), "how many limits it lies beyond: above positive, below negative"),
        "shrunk": Column(pl.Float64(), "rate pulled towards those of the sisters, over the common one", True),
        "shrunk_low": Column(pl.Float64(), "its lower limit", True),
        "shrunk_high": Column(pl.Float64(), "its upper limit", True),
    },
    sort=("pattern", "motion", "machine"),
)
"""Machines side by side, for each pattern that more than one of them has a use for."""

FLEET: Final = Table(
    "fleet",
    {
        "machine": Column(pl.String(), "which machine"),
        "rank": Column(pl.UInt32(), "1: needs a person first; null: its limits do not separate it from others", True),
        "rank_best": Column(pl.UInt32(), "best rank that its limits leave open"),
        "rank_worst": Column(pl.UInt32(), "worst"),
        "severity": Column(SEVERITY, "of what leads it; null: nothing in the last weeks", True),
        "pattern": Column(pl.String(), "what leads it", True),
        "motion": Column(MOTION, "and where", True),
        "exposure": Column(pl.String(), "what it is counted against", True),
        "count": Column(pl.UInt32(), "occurrences in the last weeks", True),
        "amount": Column(pl.Float64(), "use in them", True),
        "verdict": Column(pl.Enum(TREND_VERDICTS), "against its own past", True),
        "ratio": Column(pl.Float64(), "against its own past", True),
        "shrunk": Column(pl.Float64(), "against its sisters, pulled towards them", True),
        "shrunk_low": Column(pl.Float64(), "its lower limit", True),
        "shrunk_high": Column(pl.Float64(), "its upper limit", True),
        "active": Column(pl.UInt32(), "patterns that it shows in the last weeks"),
        "life_used": Column(pl.Float64(), "share of the safe working period that is used; null: not known", True),
    },
)
"""Machines in the order in which they need a person."""

LIFE_WEEKS: Final = Table(
    "life_weeks",
    {
        "machine": Column(pl.String(), "which machine"),
        "week": Column(pl.String(), "ISO week"),
        "observed_h": Column(pl.Float64(), "observed hours"),
        "little": Column(pl.Boolean(), "so little log that its use says little of a week"),
        "full_load_h": Column(pl.Float64(), "hours of full load used in the week"),
        "share": Column(pl.Float64(), "of the hours that its group lasts"),
        "used_h": Column(pl.Float64(), "hours of full load used by its end, those before the log included"),
        "used_share": Column(pl.Float64(), "of the hours that its group lasts"),
    },
    sort=("machine", "week"),
)
"""Life of the hoist's mechanism week by week; what lies in no log is not in it."""

LIFE: Final = Table(
    "life",
    {
        "machine": Column(pl.String(), "which machine"),
        "duration_h": Column(pl.Float64(), "hours of full load that its group lasts"),
        "used_h": Column(pl.Float64(), "of these used, at least"),
        "used_share": Column(pl.Float64(), "used_h / duration_h; above 1: over"),
        "weeks": Column(pl.UInt32(), "weeks with log"),
        "little": Column(pl.UInt32(), "of these with little log"),
        "h_per_week": Column(pl.Float64(), "hours of full load in a week, from the observed days", True),
        "h_per_week_low": Column(pl.Float64(), "its lower limit (95 %)", True),
        "h_per_week_high": Column(pl.Float64(), "its upper limit", True),
        "drawn": Column(pl.String(), "what was drawn anew for the limits: days or weeks", True),
        "assumes": Column(pl.String(), "what the forecast takes for granted", True),
        "ends": Column(TIME, "when the hours are used up at this rate; null: not within two hundred years", True),
        "earliest": Column(TIME, "its lower limit", True),
        "latest": Column(TIME, "its upper limit", True),
        "how": Column(pl.String(), "where the load spectrum is from (life.spectrum)"),
        "source": Column(pl.String(), "of the hours that its group lasts, and of the recording factor"),
        "confidence": Column(pl.String(), "the least sure of these (duty.groups.CONFIDENCES)"),
    },
    sort=("machine",),
)
"""The safe working period of each machine whose group and load spectrum are known."""

WORK_VERDICTS: Final = ("more", "less", "uneven", "not_shown", "too_little")
WORK_KINDS: Final = Table(
    "work_kinds",
    {
        "machine": Column(pl.String(), "which machine"),
        "subject": Column(pl.String(), "kinds of what: runs of a motion, as 'hoist runs', or 'work cycles'"),
        "kind": Column(pl.UInt32(), "number of the kind, 1: the most frequent"),
        "words": Column(pl.String(), "what is typical of it (duty.words)"),
        "count": Column(pl.UInt32(), "so many are of this kind in all weeks"),
        "share": Column(pl.Float64(), "of all of the subject"),
        "weeks": Column(pl.UInt32(), "weeks with enough of the subject"),
        "past_count": Column(pl.UInt32(), "of this kind before the last weeks (trends.RECENT)"),
        "past_whole": Column(pl.UInt32(), "of any kind before them"),
        "recent_count": Column(pl.UInt32(), "of this kind in the last weeks"),
        "recent_whole": Column(pl.UInt32(), "of any kind in them"),
        "change": Column(pl.Float64(), "share in the last weeks less that before; null: cannot be said", True),
        "change_low": Column(pl.Float64(), "its lower limit at the level of the trends", True),
        "change_high": Column(pl.Float64(), "its upper limit", True),
        "range": Column(pl.Float64(), "highest less lowest share of a week"),
        "spread": Column(pl.Float64(), "variance of its count in a week over that of independent runs", True),
        "p": Column(pl.Float64(), "of the smaller of two p-values, for two tests; null: not judged", True),
        "p_adjusted": Column(pl.Float64(), "the same for all kinds of the machine (false discovery rate)", True),
        "verdict": Column(pl.Enum(WORK_VERDICTS), "how its share has moved"),
    },
    sort=("machine", "subject", "kind"),
)
"""Each kind of work of each machine over the weeks; kinds are found in all weeks together."""

WORK_WEEKS: Final = Table(
    "work_weeks",
    {
        "machine": Column(pl.String(), "which machine"),
        "subject": Column(pl.String(), "kinds of what"),
        "kind": Column(pl.UInt32(), "number of the kind, as in work_kinds"),
        "week": Column(pl.String(), "ISO week"),
        "count": Column(pl.UInt32(), "so many are of this kind"),
        "whole": Column(pl.UInt32(), "of any kind"),
        "share": Column(pl.Float64(), "of all"),
        "low": Column(pl.Float64(), "its lower limit, days that are alike allowed for"),
        "high": Column(pl.Float64(), "its upper limit"),
        "few": Column(pl.Boolean(), "too few of the subject in the week to be judged"),
    },
    sort=("machine", "subject", "kind", "week"),
)
"""The share of each kind of work week by week."""
