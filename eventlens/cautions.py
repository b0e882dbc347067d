"""The cautions that stand on every page and screen that sends someone to a machine. Source: common practice."""

from __future__ import annotations

from typing import Final

GENERAL: Final = (
    "Before opening anything: land the load, switch off, lock out and tag out, prove dead.",
    "Work on brakes and overload devices belongs to competent persons; afterwards come the tests that the maker and "
    "local rules require, before the hoist is used.",
    "Never bridge or bypass a brake-release switch, a limit switch or an overload device to try something.",
    "A brake that may be standing open, a contactor that does not open or an overload device that does not trip takes "
    "the hoist out of use.",
    "A review of a log replaces no inspection. The maker's instructions, local codes and licensed practice come first; "
    "every limit used here is a default to be replaced by the maker's value.",
)
