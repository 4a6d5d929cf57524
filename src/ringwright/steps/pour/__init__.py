"""Will it fill, and freeze sound?

:func:`cast` takes the tree in its mould, proposes flask and melt (or takes those that are given), and says what comes
of them: filling, freezing, feeding, and the window about the setting. :func:`rows_of` picks its tables from the facts;
:class:`Led` is a way of leading the metal in, which :func:`judge` judges and of which :func:`best` chooses one
(:func:`counts`: whether a pore of it is to be heeded).
"""

from ringwright.steps.pour._cast import Led, cast, judge
from ringwright.steps.pour._finished import Finished
from ringwright.steps.pour._rules import PourRows, class_of, rows_of
from ringwright.steps.pour._ways import best, counts

__all__ = ["Finished", "Led", "PourRows", "best", "cast", "class_of", "counts", "judge", "rows_of"]
