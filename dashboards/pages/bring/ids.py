"""Ids of this page."""

from __future__ import annotations

from typing import Final

DROP: Final = "bring-drop"
"""Where files are dropped; the browser's part fills it."""
CAME: Final = "bring-came"
"""Store: what the browser has sent."""
TOLD: Final = "bring-told"
DUMP: Final = "bring-dump"
"""Store: the dump that the page is about."""
LOOKED: Final = "bring-looked"
LOOK_TICK: Final = "bring-look-tick"
NAMES: Final = "bring-names"
NUMBER: Final = "bring-number"
"""Store: which name and which change of it is shown."""
EARLIER: Final = "bring-earlier"
LATER: Final = "bring-later"
LANES: Final = "bring-lanes"
WIDTH: Final = "bring-width"
LANES_READING: Final = "bring-lanes-reading"
LANES_BOX: Final = "bring-lanes-box"
ZONE: Final = "bring-zone"
TAPPED: Final = "bring-tapped"
PROFILE_FILE: Final = "bring-profile-file"
ANEW: Final = "bring-anew"
KEPT_PROFILE: Final = "bring-kept-profile"
PROFILE_TOLD: Final = "bring-profile-told"
MACHINE_FILE: Final = "bring-machine-file"
MACHINE_TOLD: Final = "bring-machine-told"
FIELDS: Final = (
    "bring-id",
    "bring-rated",
    "bring-group",
    "bring-trolley-group",
    "bring-bridge-group",
    "bring-used",
    "bring-spectrum",
    "bring-shifts",
)
"""In the order of dump.Plate."""
REVIEW: Final = "bring-review"
STOP: Final = "bring-stop"
PROGRESS: Final = "bring-progress"
REVIEW_TICK: Final = "bring-review-tick"
GO: Final = "bring-go"
DELETE: Final = "bring-delete"
INTO: Final = "bring-into"
"""What can be done, or was done, to add the dump to the archive."""
INTO_TICK: Final = "bring-into-tick"
ADD: Final = "bring-add"
ADD_PLATE: Final = "bring-add-plate"
