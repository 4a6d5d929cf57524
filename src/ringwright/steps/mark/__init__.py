"""What may and must be stamped? The law of marks by market, words for the papers, and text laid inside the band."""

from ringwright.steps.mark._drawing import to_dxf, to_svg
from ringwright.steps.mark._law import floor_permille, law, passes, permille_of
from ringwright.steps.mark._layout import layout
from ringwright.steps.mark._rows import rows_of, struck_by_office
from ringwright.steps.mark._whole import marking
from ringwright.steps.mark._words import check_carats, check_metal_words, check_stone_words

__all__ = [
    "check_carats",
    "check_metal_words",
    "check_stone_words",
    "floor_permille",
    "law",
    "layout",
    "marking",
    "passes",
    "permille_of",
    "rows_of",
    "struck_by_office",
    "to_dxf",
    "to_svg",
]
