"""How is the mould fired? The kiln's programme from the conduction of heat into the flask."""

from ringwright.steps.burnout.check import core_against_series
from ringwright.steps.burnout.clock import light_at
from ringwright.steps.burnout.kiln import check_limits, programme

__all__ = ["check_limits", "core_against_series", "light_at", "programme"]
