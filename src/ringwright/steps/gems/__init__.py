"""What stone is this really? Closed solids of every cut, mass, whether the stated one fits, what it bears."""

from ringwright.steps.gems.judge import cut, round_mass_ct
from ringwright.steps.gems.rules import girdle_factor, girdle_word, rule_mass_ct
from ringwright.steps.gems.solids import shape

__all__ = ["cut", "girdle_factor", "girdle_word", "round_mass_ct", "rule_mass_ct", "shape"]
