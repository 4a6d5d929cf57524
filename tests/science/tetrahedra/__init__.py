"""The second way: ten-node tetrahedra that follow the surface, and conjugate gradients with two levels.

The strength of a ring was reckoned with them before; now they check the bricks, which share nothing with them.
"""
