#!/usr/bin/env python3
"""Makes chart.csv: invented shots of an invented lens, from a stated model and seeded noise.

The lens is the Sorrel 50 of samples/saltmarsh-day/kit.toml, on camera A in mode uhd (26.2 mm over 3840 pixels), bare and
behind the Corbel 0.71. Focus ring at 2 m and at infinity. A pinhole of focal length p, pupil e before the sensor plane,
sees a chart of width W at distance d as p W / (d - e) / pitch pixels; noise of 0.5 px and 0.5 mm is added.
"""
import random

PITCH = 26.2 / 3840
WIDTH = 420.0
# Focus mark, p and e of the lens alone in mm.
SETTINGS = [("2", 51.12, 39.90), ("inf", 49.92, 40.80)]
# The attachment's magnification, and how far it brings the sensor plane forward, in mm.
M, SHIFT = 0.7128, 7.25
DISTANCES = [1000, 1500, 2200, 3200, 4500]

dice = random.Random(1411)
rows = ["Lens,Reducer,Focus m,Tape mm,Chart width mm,Span px"]
for name, m, shift in [("none", 1.0, 0.0), ("corbel-071", M, SHIFT)]:
    for focus, p, e in SETTINGS:
        for distance in DISTANCES:
            span = m * p * WIDTH / PITCH / (distance + dice.gauss(0, 0.5) - (e - shift)) + dice.gauss(0, 0.5)
            rows.append(f"Sorrel 50,{name},{focus},{distance},{WIDTH:.0f},{span:.1f}")
print("\n".join(rows))
