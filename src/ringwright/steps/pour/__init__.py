"""Will it fill, and freeze sound?

:func:`cast` takes the tree in its mould, proposes flask and melt (or takes those that are given), and says what comes
of them: filling, freezing, feeding, and the window about the setting. :func:`rows_of` picks its tables from the facts;
:class:`Led` is another way of leading the metal in, to be set beside.
"""

from ringwright.steps.pour._cast import Led, cast
from ringwright.steps.pour._rules import PourRows, class_of, rows_of

__all__ = ["Led", "PourRows", "cast", "class_of", "rows_of"]
