"""What must the hands do? The ordered list of their tasks, with hours, cautions, and what the stones bear."""

from ringwright.steps.bench.danger import cautions, judge_air, judge_flash
from ringwright.steps.bench.days import judge_due, ready_on, working_days
from ringwright.steps.bench.quench import quench_of
from ringwright.steps.bench.stones import judge_exposure
from ringwright.steps.bench.tasks import plan

__all__ = [
    "cautions",
    "judge_air",
    "judge_due",
    "judge_exposure",
    "judge_flash",
    "plan",
    "quench_of",
    "ready_on",
    "working_days",
]
