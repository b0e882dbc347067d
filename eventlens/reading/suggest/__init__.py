"""Which signal each name of a dump most likely stands for, from names and from behaviour, each with its reason."""

from __future__ import annotations

from eventlens.reading.suggest.combine import THRESHOLD, Proposal
from eventlens.reading.suggest.propose import Proposals, is_needed, propose, with_proposals
from eventlens.reading.suggest.write import profile_text

__all__ = ["THRESHOLD", "Proposal", "Proposals", "is_needed", "profile_text", "propose", "with_proposals"]
