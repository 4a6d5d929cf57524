"""What exactly was drawn? A model read, mended, weighed and measured; or a starter shape where nothing is drawn yet.

* :func:`read`: the bytes of a model file to closed metal and stones in mm;
* :func:`starter`: a band, a solitaire, a bezel or a signet as a model;
* :func:`measure`: the ring in its own frame, with its figures and remarks;
* :func:`weigh`: volume and mass alone, of any closed model.
"""

from ringwright.steps.piece._measure import compare, measure, weigh
from ringwright.steps.piece._read import read
from ringwright.steps.piece._starter import starter

__all__ = ["compare", "measure", "read", "starter", "weigh"]
