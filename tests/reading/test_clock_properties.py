"""Guards that an instant comes back from every way of writing it, to the resolution of that way.

Oracles: datetime, calendar and zoneinfo of the standard library, and a plain loop for counters that wrap.
"""

from __future__ import annotations

import calendar
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from eventlens.reading.clock import Origin, read_clock, to_utc
from eventlens.reading.clocks.rolling import with_days, with_years
from eventlens.reading.clocks.ticks import read_ticks

LATE = 2_000_000
BEGIN = datetime(1970, 1, 1)
ZONES = ("UTC", "Europe/Berlin", "America/New_York", "Asia/Kolkata", "Australia/Lord_Howe", "Pacific/Auckland")
MONTHS = {
    "en": "January February March April May June July August September October November December",
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
    "pt": "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro",
    "pl": "stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października listopada grudnia",
}


def us_of(time: datetime) -> int:
    naive = time.astimezone(UTC).replace(tzinfo=None) if time.tzinfo else time
    return (naive - BEGIN) // timedelta(microseconds=1)


def bcd(number: int) -> str:
    return f"{number // 10}{number % 10}"


def bcd_bytes(t: datetime) -> str:
    ms = t.microsecond // 1000
    weekday = t.isoweekday() % 7 + 1  # 1 Sunday
    parts = [t.year % 100, t.month, t.day, t.hour, t.minute, t.second, ms // 10]
    return " ".join([*map(bcd, parts), f"{ms % 10}{weekday}"])


def cp56_bytes(t: datetime) -> str:
    ms = t.second * 1000 + t.microsecond // 1000
    octets = [ms % 256, ms // 256, t.minute, t.hour, t.isoweekday() * 32 + t.day, t.month, t.year % 100]
    return " ".join(f"{octet:02X}" for octet in octets)


def twelve(t: datetime) -> str:
    return f"{t.month}/{t.day}/{t.year} {t.hour % 12 or 12}:{t:%M:%S} {'AM' if t.hour < 12 else 'PM'}"


def serial(t: datetime) -> str:
    days = (t - datetime(1899, 12, 30)) / timedelta(days=1)
    return f"{days:.10f}".replace(".", ",")


def named(language: str, length: int | None) -> Callable[[datetime], str]:
    names = MONTHS[language].split()
    return lambda t: f"{t.day}. {names[t.month - 1][:length]} {t.year} {t:%H:%M:%S}"


FORMS: dict[str, tuple[Callable[[datetime], str], int]] = {  # how it is written, resolution [microseconds]
    "ISO": (lambda t: t.isoformat(timespec="milliseconds"), 1_000),
    "ISO, microseconds": (lambda t: t.isoformat(sep=" ", timespec="microseconds"), 1),
    "ISO, Z": (lambda t: t.isoformat(timespec="seconds") + "Z", 1_000_000),
    "ISO, basic": (lambda t: f"{t:%Y%m%dT%H%M%S}", 1_000_000),
    "ISO, week": (lambda t: f"{t:%G-W%V-%u}T{t:%H:%M:%S}", 1_000_000),
    "ISO, ordinal": (lambda t: f"{t:%Y-%j}T{t:%H:%M:%S}", 1_000_000),
    "comma": (lambda t: f"{t:%Y-%m-%d %H:%M:%S},{t.microsecond // 1000:03}", 1_000),
    "dots": (lambda t: f"{t:%d.%m.%Y %H:%M:%S}", 1_000_000),
    "unpadded": (lambda t: f"{t.day}.{t.month}.{t.year}  {t.hour}:{t.minute}:{t.second}", 1_000_000),
    "colon before milliseconds": (lambda t: f"{t:%d.%m.%Y %H:%M:%S}:{t.microsecond // 1000}", 1_000),
    "dots in the time": (lambda t: f"{t:%d.%m.%Y %H.%M.%S}", 1_000_000),
    "ctime": (lambda t: t.ctime(), 1_000_000),
    "time first": (lambda t: f"{t:%H:%M:%S %Y-%m-%d}", 1_000_000),
    "digits": (lambda t: f"{t:%Y%m%d%H%M%S}{t.microsecond // 1000:03}", 1_000),
    "RFC 2822": (lambda t: f"{t:%a, %d %b %Y %H:%M:%S} +0000", 1_000_000),
    "literal": (lambda t: f"DT#{t.year}-{t.month}-{t.day}-{t.hour}:{t.minute}:{t.second}", 1_000_000),
    "long literal": (lambda t: f"LDT#{t:%Y-%m-%d-%H:%M:%S}.{t.microsecond:06}000", 1),
    "BCD": (bcd_bytes, 1_000),
    "CP56Time2a": (cp56_bytes, 1_000),
    "seconds": (lambda t: str(calendar.timegm(t.timetuple())), 1_000_000),
    "milliseconds": (lambda t: str(us_of(t) // 1000), 1_000),
    "microseconds": (lambda t: str(us_of(t)), 1),
    "nanoseconds": (lambda t: f"{us_of(t)}000", 1),
    "spreadsheet": (serial, 1_000),
    **{f"months, {language}": (named(language, None), 1_000_000) for language in MONTHS},
    **{f"months, {language}, four letters": (named(language, 4), 1_000_000) for language in MONTHS},
}

moments = st.datetimes(datetime(1992, 1, 1), datetime(2068, 12, 31))


@settings(max_examples=400, deadline=None)
@given(st.lists(moments, min_size=1, max_size=8), st.sampled_from(sorted(FORMS)))
def test_every_form_comes_back(times: list[datetime], form: str) -> None:
    write, resolution = FORMS[form]
    # a day above 12 and a year above 31 leave only one order of day, month and year
    times = [*times, datetime(2049, 10, 29, 14, 35, 47, 250_000)]
    found = read_clock([pl.Series("t", [write(time) for time in times])])
    assert found is not None
    want = [us_of(time) // resolution * resolution for time in times]
    if form == "spreadsheet":  # rounded, not cut off
        want = [(us_of(time) + 500) // 1000 * 1000 for time in times]
        assert [abs(a - b) <= 1000 for a, b in zip(found.time, want, strict=True)] == [True] * len(times)
    else:
        assert found.time.to_list() == want
    assert found.undated is None
    assert found.breaks is None


@settings(max_examples=100, deadline=None)
@given(st.lists(moments, min_size=1, max_size=8))
def test_twelve_hours_month_first(times: list[datetime]) -> None:
    times = [time.replace(microsecond=0) for time in [*times, datetime(2049, 10, 29, 14, 35)]]
    found = read_clock([pl.Series("t", [twelve(time) for time in times])])
    assert found is not None
    assert found.time.to_list() == [us_of(time) for time in times]


@settings(max_examples=200, deadline=None)
@given(st.lists(moments, min_size=1, max_size=8), st.sampled_from(ZONES))
def test_offsets_and_zones_lead_to_the_same_instant(times: list[datetime], name: str) -> None:
    zone = ZoneInfo(name)
    instants = [time.replace(microsecond=0, tzinfo=UTC) for time in times]
    local = [instant.astimezone(zone) for instant in instants]
    with_offset = read_clock([pl.Series("t", [time.isoformat() for time in local])])
    assert with_offset is not None
    assert with_offset.time.to_list() == [us_of(instant) for instant in instants]
    # without the offset only stamps outside the repeated hour say which instant they are
    clear = [time for time in local if time.utcoffset() == time.replace(fold=1 - time.fold).utcoffset()]
    if clear:
        bare = read_clock([pl.Series("t", [f"{time:%Y-%m-%d %H:%M:%S}" for time in clear])])
        assert bare is not None
        utc, missing, _ = to_utc(bare, name, LATE)
        assert not missing.any()
        assert utc.to_list() == [us_of(time) for time in clear]


@settings(max_examples=60, deadline=None)
@given(st.integers(1990, 2036), st.sampled_from(("Europe/Berlin", "America/New_York")), st.integers(60, 900))
def test_file_order_tells_the_passes_of_the_repeated_hour(year: int, name: str, step: int) -> None:
    zone = ZoneInfo(name)
    hours = [datetime(year, 9, 15, tzinfo=UTC) + timedelta(hours=at) for at in range(24 * 80)]
    offsets = [hour.astimezone(zone).utcoffset() for hour in hours]
    change = next(hours[at] for at in range(1, len(hours)) if offsets[at] != offsets[at - 1])
    instants = [change + timedelta(seconds=at * step) for at in range(-8000 // step, 8000 // step)]
    local = [f"{instant.astimezone(zone):%d.%m.%Y %H:%M:%S}" for instant in instants]
    found = read_clock([pl.Series("t", [*local, f"29.12.{year} 12:00:00"])])
    assert found is not None
    utc, missing, _ = to_utc(found.filter(pl.Series([True] * len(local) + [False])), name, LATE)
    assert not missing.any()
    assert utc.to_list() == [us_of(instant) for instant in instants]


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from((16, 31, 32)),
    st.booleans(),
    st.floats(0, 1, exclude_max=True),
    st.lists(st.floats(0.001, 0.06), min_size=20, max_size=60),
    st.sampled_from((1, 1_000, 10_000)),
)
def test_a_counter_that_wraps_is_unrolled(
    bits: int, signed: bool, begin: float, gaps: list[float], tick_us: int
) -> None:
    bits = 32 if signed and bits == 31 else bits
    size = 1 << bits
    ticks = [int(begin * size)]
    for gap in gaps:
        ticks.append(ticks[-1] + max(int(gap * size), 1))
    wrapped = [tick % size - (size if signed and tick % size >= size // 2 else 0) for tick in ticks]
    crossed = any((b < a) for a, b in pairwise(wrapped))
    top = size // 2 if signed else size
    plain = max(wrapped) >= top - size // 10  # else nothing shows where it wraps
    late = any(0 < a - b <= LATE / tick_us for a, b in pairwise(wrapped))
    narrow = signed and bits == 32 and min(wrapped) >= -(1 << 15) and max(wrapped) < 1 << 15
    if (crossed and not plain) or late or narrow or (signed and min(wrapped) >= 0) or max(wrapped) < top // 2:
        return
    found = read_ticks(pl.Series("t", wrapped), tick_us, "", Origin())
    assert found is not None
    assert (found.time - found.time[0]).to_list() == [(tick - ticks[0]) * tick_us for tick in ticks]
    assert found.breaks is None


@settings(max_examples=150, deadline=None)
@given(st.datetimes(datetime(2001, 1, 1), datetime(2030, 1, 1)), st.lists(st.integers(0, 79_000), max_size=40))
def test_times_of_day_are_dated_by_their_order(begin: datetime, gaps: list[int]) -> None:
    """Gaps of less than 22 hours: midnight then shows as a step back of more than two."""
    begin = begin.replace(microsecond=0)
    times = [begin]
    for gap in gaps:
        times.append(times[-1] + timedelta(seconds=gap))
    clock = pl.Series([us_of(time) % 86_400_000_000 for time in times])
    if _looks_reversed(clock.to_numpy(), 43_200_000_000):
        return
    days, _ = with_days(clock, Origin(day=begin.date()))
    assert (days * 86_400_000_000 + clock).to_list() == [us_of(time) for time in times]


@settings(max_examples=150, deadline=None)
@given(st.dates(date(2001, 1, 1), date(2030, 1, 1)), st.lists(st.integers(0, 180), min_size=1, max_size=30))
def test_years_follow_from_the_order(begin: date, gaps: list[int]) -> None:
    days = [begin]
    for gap in gaps:
        days.append(days[-1] + timedelta(days=gap))
    in_leap_year = pl.Series([(day.replace(year=2000) - date(1970, 1, 1)).days for day in days], dtype=pl.Int32)
    if _looks_reversed(in_leap_year.to_numpy(), 183):
        return
    found, _ = with_years(in_leap_year, Origin(year=begin.year))
    assert found.to_list() == [(day - date(1970, 1, 1)).days for day in days]


def _looks_reversed(values: np.ndarray, half: int) -> bool:
    """Whether the small steps of a record go back: it is then rightly read from its end."""
    step = np.diff(values)
    small = step[(step != 0) & (np.abs(step) <= half)]
    return bool(np.count_nonzero(small < 0) > 9 * np.count_nonzero(small > 0))
