"""What must the inside of the ring be? Every size system from one inner circumference, and the fit's allowances."""

from ringwright.steps.finger._fit import blank_length_mm, fit
from ringwright.steps.finger._quarrels import disagreements
from ringwright.steps.finger._rows import rows_of
from ringwright.steps.finger._sizes import circumference_mm, labels, size_mm, system_of

__all__ = ["blank_length_mm", "circumference_mm", "disagreements", "fit", "labels", "rows_of", "size_mm", "system_of"]
