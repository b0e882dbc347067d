"""The same numbers in SQL. The queries are the straightforward ones: windows and as-of joins."""

from __future__ import annotations

from pathlib import Path

import duckdb

from tests.benchmarks.beside import numbers as n
from tests.benchmarks.beside.numbers import Numbers

READ = """
create temp table events as
select epoch_us(strptime(Time, '%Y-%m-%d %H:%M:%S.%g')) as t, Tag as name, State as state
from read_csv('{log}', delim = ';', header = true,
              columns = {{'Time': 'varchar', 'Tag': 'varchar', 'State': 'tinyint'}})
"""
READ_PARQUET = "create temp table events as select epoch_us(Time) as t, Tag as name, State as state from '{log}'"
SPELLS = """
create temp table spells as
select name, t as start, stop from (
    select name, t, state, lead(t) over (partition by name order by t) as stop from events
) where state = 1
"""
RUNS = f"""
create temp table runs as
with driven as (select name, start, stop from spells where name in ('K1', 'K2')),
called as (
    select d.*, c.stop as let_go
    from driven d asof left join (select case name when 'S1' then 'K1' else 'K2' end as name, start, stop
                                  from spells where name in ('S1', 'S2')) c
    on d.name = c.name and d.stop >= c.start
),
braked as (
    select c.*, case when b.start <= c.stop then b.start - c.start end as release
    from called c asof left join (select start from spells where name = 'B3') b on c.start <= b.start
),
stepped as (
    select r.*, case when f.start < r.stop then f.start - r.start end as step
    from braked r asof left join (select start from spells where name = 'K3') f on r.start <= f.start
)
select *,
       start - lag(stop) over w as pause,
       name <> lag(name) over w as reversed,
       stop - start < {n.JOG_LONGEST_US} and let_go - stop <= {n.DROPPED_US} as jog
from stepped window w as (order by start)
"""
JOGGING = f"""
with marked as (
    select *, coalesce(jog and lag(jog) over (order by start) and pause < {n.JOG_PAUSE_US}, false) as follows from runs
),
bursts as (select *, sum(case when follows then 0 else 1 end) over (order by start) as burst from marked)
select count(*) from (select burst from bursts where jog group by burst having count(*) >= {n.JOG_BURST})
"""
BUSIEST = f"""
select max(c) from (
    select count(*) over (order by start range between {n.HOUR_US - 1} preceding and current row) as c from runs
)
"""
CYCLIC = f"""
with ordered as (
    select start, stop, sum(stop - start) over (order by start rows unbounded preceding) - (stop - start) as before
    from runs
),
ends as (select stop as t from runs union all select start + {n.TEN_MINUTES_US} from runs),
now as (
    select e.t, o.before + least(e.t, o.stop) - o.start as ran
    from ends e asof join ordered o on e.t >= o.start
)
select max(ran - coalesce(o.before + least(now.t - {n.TEN_MINUTES_US}, o.stop) - o.start, 0))
from now asof left join ordered o on now.t - {n.TEN_MINUTES_US} >= o.start
"""
REST = f"""
select count(*), sum(stop - start), median(release), round(avg(release)), median(step),
       count(*) filter (let_go - stop > {n.DROPPED_US}),
       count(*) filter (release + {n.UNCERTAINTY_US} > {n.RELEASE_US}),
       count(*) filter (step <= {n.MISSING_US}),
       count(*) filter (step > {n.MISSING_US} and step - {n.UNCERTAINTY_US} < {n.SHORT_US}),
       count(*) filter (reversed and pause - {n.UNCERTAINTY_US} < {n.REVERSAL_US})
from runs
"""


def numbers(log: Path) -> Numbers:
    """The numbers of a log, by DuckDB in memory with all cores."""
    base = duckdb.connect()
    base.execute((READ_PARQUET if log.suffix == ".parquet" else READ).format(log=log))
    base.execute(SPELLS)
    base.execute(RUNS)

    def one(query: str) -> tuple[int, ...]:
        row = base.execute(query).fetchone()
        assert row is not None
        return row

    runs, running, release, mean, step, dropped, late, missing, short, against = one(REST)
    return Numbers(
        runs=runs,
        running_us=int(running),
        release_median_us=float(release),
        release_mean_us=int(mean),
        speed_change_median_us=float(step),
        starts_per_hour_max=one(BUSIEST)[0],
        running_of_ten_minutes_max_us=int(one(CYCLIC)[0]),
        jogging=one(JOGGING)[0],
        drop_out=dropped,
        brake_release_late=late,
        speed_change_missing=missing,
        speed_change_short=short,
        reversal_without_pause=against,
    )
