"""A commission and a workshop as a person would write them; each test changes a line of them."""

from __future__ import annotations

COMMISSION = """\
# for the window
[commission]
number = "2027-014"
title = "Oval sapphire ring"
market = "uk"
currency = "GBP"
due = 2027-04-30

[finger]
size = "M"
system = "uk"
band_width = "2.2 mm"

[metal]
alloy = "18k-3n"

[[stone]]
name = "centre"   # from her grandmother
cut = "oval"
material = "sapphire"
length = "7 mm"
width = "0.2 in"
depth = "3.4 mm"
stated_mass = "1.31 ct"
owner = "client"
seat = { at = "0, 11.2, 0 mm", facing = "0, 1, 0", turn = "90 deg" }

[starter]
shape = "solitaire"
claws = 4

[price]
compare = ["9k-yellow", "pt950-ru"]
budget = "2400"
"""

WORKSHOP = """\
[shop]
name = "The Tidewater bench"
currency = "GBP"
hour_rate = "45.00"

[[fine_price]]
metal = "Au"
per_g = "61.20 GBP"

[[printer]]
name = "small"
plate_length = "12 cm"
plate_width = "68 mm"
height = "150 mm"
layer = "0.025 mm"
layer_time = "7 s"
resin = "castable"

[[flask]]
name = "F80"
diameter = "80 mm"
height = "100 mm"

[[kiln]]
name = "old one"
max = "1800 °F"
max_ramp = "6 °C/min"
spread = "18 °F"

[[stock]]
name = "grain"
kind = "fine metal"
mass = "2 ozt"
composition = { Au = "99.99 %", Ag = "0.1 permille" }

[hours]
polish = "45 min"
"""
