"""What is known about causes: its own tables hold together, a user's file changes them, and faults are named.

Expected sums of priors and sets of causes were added up and written down by hand when the knowledge was collected;
they guard against slips in the tables, the figures themselves are judgement.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from eventlens import signals
from eventlens.causes.facts import load_knowledge
from eventlens.causes.models import NEEDED, Knowledge
from eventlens.errors import KnowledgeError
from eventlens.patterns import catalogue

OWN = load_knowledge()

GROUPS = {
    "command path": 13.5,
    "switchgear": 19.0,
    "speed timer": 2.0,
    "brake": 21.5,
    "supply": 14.0,
    "overload device": 6.0,
    "use": 13.5,
    "limits": 5.0,
    "motor": 2.0,
    "controller": 3.5,
}

DROP_OUTS = {
    "interface_relay",
    "main_contact_worn",
    "overload_sensor",
    "release_switch_intermittent",
    "lining_gap",
    "brake_coil",
    "rectifier_half",
    "supply_dip",
    "common_terminal",
    "pendant_button",
    "pendant_cable",
    "contactor_coil",
    "aux_contact",
    "phase_feeder",
    "collector_gap",
    "controller_log",
}

OVERLOAD_TRIPS = {
    "speed_timer",
    "overload_low",
    "overload_high",
    "overload_sensor",
    "true_overload",
    "snatch",
    "slack_rope",
}

DANGEROUS: dict[str, tuple[str, ...]] = {
    "release_switch_stuck": ("released_at_rest", "confirmed_too_soon", "brake_confirmed_at_rest"),
    "ac_side": ("set_longer_step", "overrun", "brake_apply_late"),
    "main_contact_weld": ("contactor_stays", "overrun", "contactor_stuck", "opposed_directions"),
    "overload_high": ("overload_never", "overload_no_trip"),
    "interlock": ("both_directions_on", "opposed_directions"),
    "limit_fault": ("limit_passed",),
    "lining_gap": ("overrun",),  # a hook that sinks
    "pendant_button": ("command_stuck",),  # a direction button that does not come back
}
"""Each with the evidence and the patterns that make it so."""

CAUSE = """
[causes.wet_plug]
title = "wet plug of the pendant"
part = "pendant plug"
group = "command path"
prior = 1.5
explains = ["drop_out"]
for = { when_wet = 3 }
remedy = "Dry and seal it."
source = "three own cases"
checks = [{ check = "pendant_cores", positive = "water", if_true = 0.9, if_other = 0.1, negative = "dry" }]
"""


def of_user(folder: Path, text: str) -> Knowledge:
    path = folder / "own.toml"
    path.write_text(text, "utf-8")
    return load_knowledge(path)


def texts(value: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Every text in nested tables, with where it stands."""
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from texts(inner, f"{path}.{key}")
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from texts(inner, path)


# --- the project's own tables ---


def test_it_is_loaded_once() -> None:
    assert load_knowledge() is OWN
    assert (OWN.replaced, OWN.added) == ((), ())


def test_importing_eventlens_loads_none_of_it() -> None:
    code = "import sys, eventlens; print([m for m in sys.modules if m.startswith('eventlens.causes')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_stages_load_its_code_and_none_of_its_files() -> None:
    code = "import eventlens.wiring; from eventlens.causes import facts; print(facts._own.cache_info().currsize)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "0"


def test_priors_sum_to_a_hundred_and_by_group() -> None:
    sums = dict.fromkeys(GROUPS, 0.0)
    for cause in OWN.causes.values():
        sums[cause.group] += cause.prior
    assert sums == pytest.approx(GROUPS)
    assert sum(sums.values()) == pytest.approx(100)


def test_tables_are_complete() -> None:
    counted = {name: len(getattr(OWN, name)) for name in ("causes", "evidence", "checks", "cautions", "undecided")}
    assert counted == {"causes": 33, "evidence": 86, "checks": 44, "cautions": 20, "undecided": 13}


def test_causes_of_drop_outs_and_of_overload_trips() -> None:
    assert set(OWN.explaining("drop_out")) == DROP_OUTS
    trips = [name for name in catalogue() if name.startswith("overload_")]
    assert {cause for name in trips for cause in OWN.explaining(name)} == OVERLOAD_TRIPS


@pytest.mark.parametrize("pattern", [name for name, one in catalogue().items() if one.severity != "note"])
def test_every_pattern_that_asks_for_something_has_a_cause(pattern: str) -> None:
    assert OWN.explaining(pattern)


def test_causes_of_the_hoist_alone_explain_nothing_elsewhere() -> None:
    assert "snatch" in OWN.explaining("overload_snatch", "hoist")
    assert OWN.explaining("overload_no_trip", "trolley") == ()
    assert "interface_relay" in OWN.explaining("drop_out", "trolley")


def test_dangerous_causes_say_why_the_machine_is_out_of_use() -> None:
    assert {name: c.out_of_use_if for name, c in OWN.causes.items() if c.out_of_use} == DANGEROUS


def test_patterns_that_put_a_machine_out_of_service_have_a_cause_that_says_so() -> None:
    named = {name for cause in OWN.causes.values() for name in cause.out_of_use_if}
    severe = {name for name, one in catalogue().items() if one.severity == "out_of_service"}
    # a contactor that closes by itself and a device that reports its own fault are shown by their findings alone
    assert severe - named == {"contactor_uncommanded", "overload_device_fault"}


def test_checks_carry_the_cautions_of_their_state() -> None:
    always = {
        "isolated": {"isolate", "land_load", "no_bridge"},
        "live": {"live_last", "stored_voltage", "no_bridge", "stop_now"},
        "test": {"keep_clear", "first_start", "no_bridge", "stop_now"},
        "no_load_run": {"keep_clear", "first_start", "stop_now"},
        "work": {"keep_clear", "stop_now"},
        "desk": set(),
    }
    for name, check in OWN.checks.items():
        given = list(OWN.cautions_of(name))
        assert given, name
        assert all(caution.fits(check) for caution in given), name
        assert NEEDED[check.state] in {caution.when for caution in given}, name
        assert set(check.cautions) >= always[check.state], name
    assert {check.state for check in OWN.checks.values()} == set(always)


def test_work_on_brake_overload_device_and_limits_carries_its_own_cautions() -> None:
    assert {"brake_test", "two_tries"} <= set(OWN.checks["stop_and_hold"].cautions)
    assert "overload_setting" in OWN.checks["overload_test"].cautions
    assert "limit_tryout" in OWN.checks["limit_tryout"].cautions
    assert "runway" in OWN.checks["collector"].cautions


def test_every_caution_can_be_reached() -> None:
    used = {key for check in OWN.checks.values() for key in check.cautions}
    assert set(OWN.cautions) - used == {"help_only"}  # it belongs to the whole list


def test_dead_checks_are_those_without_power() -> None:
    assert OWN.checks["relay_seat"].dead
    assert OWN.checks["replay"].dead
    assert not OWN.checks["control_voltage"].dead
    assert not OWN.checks["no_load_run"].dead
    for check in OWN.checks.values():
        assert check.dead or check.risk >= 1
        assert (check.state == "live") == (check.risk == 3)


PROPOSES = re.compile(
    r"\b(bridg(e|es|ing)|bypass\w*|jumper\w*|override\w*|defeat\w*|disable\w*|short(ing)? (out|across))\b"
)
HARMLESS = re.compile(
    r"\bnever\b|\bnobody\b|\bremove any\b|left behind|a bridge (across it|found|is found)"
    r"|of trolley or bridge|^bridge\.[a-z_]+$"
)


def proposes_a_bridge(text: str) -> bool:
    """Whether a sentence speaks of a bridge without forbidding it or reporting one that was found."""
    sentences = re.split(r"(?<=[.!?:;])\s", text.lower())
    return any(PROPOSES.search(sentence) and not HARMLESS.search(sentence) for sentence in sentences)


@pytest.mark.parametrize(
    ("text", "bad"),
    [
        ("Bridge the limit to see whether it is the fault.", True),
        ("Never work alone. Bypass the switch.", True),
        ("Short out the contact and run.", True),
        ("Never bridge a limit.", False),
        ("a bridge left behind after looking for a fault", False),
        ("faulty brake coil: open or partly shorted", False),
    ],
)
def test_what_counts_as_proposing_a_bridge(text: str, bad: bool) -> None:
    assert proposes_a_bridge(text) == bad


def test_no_text_proposes_a_bridge() -> None:
    found = [where for where, text in texts(OWN.model_dump()) if proposes_a_bridge(text)]
    assert found == []


def test_no_setting_of_a_protection_is_raised() -> None:
    for where, text in texts(OWN.model_dump()):
        for sentence in re.split(r"(?<=[.!?])\s", text.lower()):
            if re.search(r"\brais(e|es|ed|ing) the (thermal|overload|setting)", sentence):
                assert "nobody" in sentence, where


def test_titles_fit_into_a_line() -> None:
    for title in [one.title for one in (*OWN.evidence.values(), *OWN.causes.values())]:
        assert len(title) <= 80, title
        assert not title.endswith("."), title
        assert title[0].islower(), title
    for section in (OWN.evidence, OWN.causes):
        assert len({one.title for one in section.values()}) == len(section)


def test_every_evidence_can_be_known_where_everything_is_logged() -> None:
    everything = frozenset(signals.ALL)
    for name, evidence in OWN.evidence.items():
        assert any(evidence.known(everything, motion) for motion in signals.MOTIONS), name
        assert evidence.known(frozenset(), "hoist") == (not evidence.signals), name


# --- what they say ---


def test_marks_weigh_what_the_strengths_say() -> None:
    assert OWN.ratio("interface_relay", "one_direction") == 10  # three marks for
    assert OWN.ratio("interface_relay", "command_steady") == 2
    assert OWN.ratio("interface_relay", "both_directions") == 0.25  # two against
    assert OWN.ratio("interface_relay", "zero_drift") == 1  # no mark: neutral


def test_ways_are_spelled_for_a_motion() -> None:
    one_direction = OWN.evidence["one_direction"]
    assert one_direction.ways("trolley", "left")[0] == ("trolley.left.contactor", "trolley.right.contactor")
    overrun = OWN.evidence["overrun"]
    assert overrun.ways("hoist") == (("hoist.speed_m_per_min",), ("hoist.height_m",))
    assert overrun.ways("bridge") == (("bridge.speed_m_per_min",), ("bridge.position_m",))
    other = {name for way in OWN.evidence["with_other_motion"].ways("trolley") for name in way}
    assert "hoist.raise.contactor" in other
    assert not any(name.startswith("trolley.") for name in other)


def test_a_way_needs_all_of_its_signals() -> None:
    fast_lost = OWN.evidence["fast_lost"]
    assert fast_lost.known(frozenset({"hoist.fast.command", "hoist.fast.contactor"}), "hoist")
    assert not fast_lost.known(frozenset({"hoist.fast.command"}), "hoist")
    assert not fast_lost.known(frozenset({"hoist.fast.command", "hoist.fast.contactor"}), "trolley")


def test_what_is_undecided_ends_with_the_signals_that_decide() -> None:
    group = OWN.undecided["raise_cut"]
    assert group.holds(frozenset({"overload.trip"}), "hoist", "raise")
    assert not group.holds(frozenset({"overload.trip", "hoist.raise.limit"}), "hoist", "raise")
    assert not group.holds(frozenset(), "hoist", "lower")
    assert not group.holds(frozenset(), "trolley")
    confirmed = OWN.undecided["never_confirmed"]
    assert confirmed.holds(frozenset({"hoist.motor.current_a"}), "trolley")
    assert not confirmed.holds(frozenset({"trolley.motor.current_a"}), "trolley")
    assert OWN.undecided["one_scan"].holds(frozenset(signals.ALL), "hoist")  # no signal that has a name decides it


def test_it_cannot_be_changed() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        OWN.causes["clock"].prior = 2.0  # type: ignore[misc]


# --- a user's file ---


def test_a_user_replaces_single_values(tmp_path: Path) -> None:
    text = "[causes.interface_relay]\nprior = 12.5\nfor = { one_direction = 1, with_shocks = 0 }\n"
    text += "[checks.replay]\nminutes = 15\n"
    own = of_user(tmp_path, text)
    relay, before = own.causes["interface_relay"], OWN.causes["interface_relay"]
    assert (relay.prior, before.prior) == (12.5, 5.0)
    assert own.replaced == (
        "causes.interface_relay.prior",
        "causes.interface_relay.for.one_direction",
        "causes.interface_relay.for.with_shocks",
    )  # minutes are as they were
    assert own.added == ()
    assert own.ratio("interface_relay", "one_direction") == 2
    assert "with_shocks" not in relay.marks
    assert relay.checks == before.checks
    assert load_knowledge() is OWN


def test_a_user_adds_a_cause_with_evidence_and_check(tmp_path: Path) -> None:
    own = of_user(
        tmp_path,
        CAUSE.replace("when_wet = 3", "when_wet = 3, smell = 1").replace("pendant_cores", "plug")
        + '[evidence.smell]\nfamily = "place"\ntitle = "smell"\nmeaning = "it smells"\nsignals = []\nsource = "own"\n'
        + '[checks.plug]\nwhat = "Open the plug"\ntool = "eye"\nminutes = 5\nstate = "isolated"\nrisk = 2\n'
        + 'cautions = ["isolate", "land_load"]\n',
    )
    assert own.added == ("causes.wet_plug", "evidence.smell", "checks.plug")
    assert own.replaced == ()
    assert "wet_plug" in own.explaining("drop_out")
    assert own.causes["wet_plug"].checks[0].check == "plug"
    assert own.checks["plug"].dead


def test_lists_are_replaced_as_a_whole_and_weights_too(tmp_path: Path) -> None:
    own = of_user(tmp_path, '[causes.clock]\nexplains = ["clock_step"]\n[strengths]\nfor = [1.5, 3.0, 6.0]\n')
    assert own.causes["clock"].explains == ("clock_step",)
    assert own.ratio("interface_relay", "one_direction") == 6
    assert own.replaced == ("causes.clock.explains", "strengths.for")


def test_an_empty_file_changes_nothing(tmp_path: Path) -> None:
    assert of_user(tmp_path, "") == OWN


# --- faults: (what the file says, the sentence's parts, the line) ---

FAULTS = {
    "table": ("[cause.x]\n", ["a known table", "'cause'", "'causes'"], 1),
    "no table": ("causes = 3\n", ["tables [causes.NAME]"], 1),
    "entry no table": ("[checks]\nreplay = 3\n", ["tables [checks.NAME]"], 2),
    "key": (CAUSE.replace("remedy", "remedie"), ["a known key in [causes.wet_plug]", "'remedy'"], 9),
    "key in a list": (CAUSE.replace("positive", "positiv"), ["'positiv'", "'positive'"], 11),
    "missing": (CAUSE.replace("part =", "#"), ["'causes.wet_plug.part'", "nothing", "add it"], 2),
    "pattern": (CAUSE.replace("drop_out", "drop_ot"), ["a known pattern in causes.wet_plug.explains", "'drop_out'"], 7),
    "check": (CAUSE.replace("pendant_cores", "pendant_core"), ["a known check", "'pendant_cores'"], 11),
    "for": (CAUSE.replace("when_wet", "when_wett"), ["a known evidence in causes.wet_plug.for", "'when_wet'"], 8),
    "against": (CAUSE + "against = { groing = 1 }\n", ["causes.wet_plug.against", "'growing'"], 12),
    "both": (CAUSE + "against = { when_wet = 1 }\n", ["'when_wet' in both"], 12),
    "why": (CAUSE + 'why = { growing = "x" }\n', ["evidence with a mark", "'growing'"], 12),
    "confused": (CAUSE + 'confused_with = { wet_plug = "x" }\n', ["a known other cause", "'wet_plug'"], 12),
    "out_of_use_if": (CAUSE + 'out_of_use_if = ["overrun"]\n', ["the reason as out_of_use"], 12),
    "danger": (
        CAUSE + 'out_of_use = "x"\nout_of_use_if = ["overun"]\n',
        ["a known evidence or pattern in causes.wet_plug.out_of_use_if", "'overrun'"],
        13,
    ),
    "prior": (CAUSE.replace("1.5", "0"), ["causes.wet_plug.prior", "greater than 0"], 6),
    "mark": (CAUSE.replace("= 3", "= 4"), ["less than or equal to 3", "4"], 8),
    "probability 1": (CAUSE.replace("0.9", "1.0"), ["if_true", "less than 1"], 11),
    "probability 0": (CAUSE.replace("0.1", "0.0"), ["if_other", "greater than 0"], 11),
    "tells nothing": (CAUSE.replace("0.9", "0.1"), ["if_true and if_other that differ"], 11),
    "no check": (CAUSE.replace("checks = [{", "checks = [] #"), ["causes.wet_plug.checks", "at least 1"], 11),
    "signal": (
        '[evidence.jogging]\nsignals = ["{motion}.{direction}.comand"]\n',
        ["a known signal in evidence.jogging.signals", "'{motion}.{direction}.command'"],
        2,
    ),
    "placeholder": ('[evidence.jogging]\nsignals = ["{axis}.raise.command"]\n', ["a known signal"], 2),
    "family": ('[evidence.jogging]\nfamily = "us"\n', ["evidence.jogging.family"], 2),
    "unused": (
        '[evidence.smell]\nfamily = "place"\ntitle = "s"\nmeaning = "m"\nsignals = []\nsource = "own"\n',
        ["a cause that evidence.smell speaks for or against"],
        1,
    ),
    "caution": ('[checks.replay]\ncautions = ["no_name"]\n', ["a known caution", "'no_names'"], 2),
    "strange caution": (
        '[checks.replay]\ncautions = ["clock_and_step", "isolate"]\n',
        ["fit its state 'desk'", "'isolate'"],
        2,
    ),
    "caution lacking": ('[checks.relay_seat]\ncautions = ["one_change"]\n', ["none of 'before'", "isolate"], 2),
    "state": ('[checks.replay]\nstate = "dark"\n', ["checks.replay.state"], 2),
    "risk": ("[checks.replay]\nrisk = 5\n", ["checks.replay.risk"], 2),
    "when": ('[cautions.isolate]\nwhen = "later"\n', ["cautions.isolate.when"], 2),
    "undecided": ('[undecided.one_scan]\ncauses = ["clock", "clok"]\n', ["a known cause", "'clock'"], 2),
    "added signal": (
        '[undecided.one_scan]\nadd = [{ signal = "load.kgs", tells = "x" }]\n',
        ["a known signal in undecided.one_scan.add", "'load.kg'"],
        2,
    ),
    "addition": ('[undecided.one_scan]\nadd = [{ tells = "x" }]\n', ["either 'signal' or 'what'"], 2),
    "strengths": ("[strengths]\nfor = [4.0, 2.0, 10.0]\n", ["not falling"], 1),
    "strengths against": ("[strengths]\nagainst = [0.5, 0.25, 0.0]\n", ["above 0"], 1),
    "power": ("[strengths]\nfurther_share = 1.2\n", ["strengths.further_share"], 2),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_one_sentence_with_file_key_and_remedy(name: str, tmp_path: Path) -> None:
    text, parts, line = FAULTS[name]
    with pytest.raises(KnowledgeError) as caught:
        of_user(tmp_path, text)
    said = str(caught.value)
    assert all(part in said for part in parts), said
    assert said.count("\n") == 0
    assert caught.value.file == str(tmp_path / "own.toml")
    assert caught.value.remedy
    assert caught.value.line == line, said


@pytest.mark.parametrize(
    "text",
    [
        CAUSE,
        CAUSE.replace("1.5", "0.01"),
        CAUSE.replace("= 3", "= 0") + "against = { when_wet = 1 }\n",
        CAUSE.replace("0.9", "0.999").replace("0.1,", "0.001,"),
        CAUSE.replace("0.9", "0.1").replace("if_other = 0.1", "if_other = 0.11"),
        CAUSE + 'why = { when_wet = "x" }\n',
        CAUSE + 'confused_with = { pendant_cable = "x" }\n',
        CAUSE + 'out_of_use = "x"\nout_of_use_if = ["overrun", "contactor_stuck"]\n',
        '[evidence.jogging]\nsignals = [["{motion}.{direction}.command"], ["load.kg"]]\n',
        '[checks.replay]\ncautions = ["clock_and_step", "no_names"]\nrisk = 4\n',
        '[checks.relay_seat]\ncautions = ["one_change", "isolate"]\n',
        "[strengths]\nfor = [1.0, 1.0, 1.0]\nagainst = [1.0, 1.0, 1.0]\nfurther_share = 1.0\nunlisted_prior = 0.99\n",
    ],
)
def test_the_nearest_neighbours_of_faults_are_accepted(text: str, tmp_path: Path) -> None:
    assert isinstance(of_user(tmp_path, text), Knowledge)


def test_a_file_that_is_none(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="check the path"):
        load_knowledge(tmp_path / "none.toml")
    with pytest.raises(KnowledgeError, match="wanted TOML"):
        of_user(tmp_path, "[causes\n")


def test_the_right_one_of_listed_tables_is_named(tmp_path: Path) -> None:
    step = (
        '[[causes.clock.checks]]\ncheck = "clock"\npositive = "off"\nif_true = {}\nif_other = 0.1\nnegative = "right"\n'
    )
    with pytest.raises(KnowledgeError) as caught:
        of_user(tmp_path, step.format(0.9) + step.format(1.9))
    assert caught.value.line == 10


def test_the_cause_that_the_guide_shows_is_accepted(tmp_path: Path) -> None:
    guide = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
    shown = [block for block in re.findall(r"```toml\n(.*?)```", guide, flags=re.DOTALL) if "[causes." in block]
    assert len(shown) == 1
    assert of_user(tmp_path, shown[0]).added == ("causes.wet_plug",)
