"""Freezing of a metal in a mould: transient conduction with latent heat on a graded octree.

For the thorough pour; :mod:`ringwright.science.quick_freezing` is for searches. ``cells_of`` makes the cells of a mesh
in its flask, ``freeze`` marches until the metal is solid. Importing this package imports compiled kernels: import it
where it is used.
"""

from ringwright.science.freezing.cells import Cells, Grading, Room, cells_of
from ringwright.science.freezing.freeze import Care, Frozen, Setting, freeze

__all__ = ["Care", "Cells", "Frozen", "Grading", "Room", "Setting", "cells_of", "freeze"]
