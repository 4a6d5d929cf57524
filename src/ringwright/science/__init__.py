"""Kernels that two steps or more need; knows no word of the trade."""
