"""Paper, ply and the laser: the pattern stick, gauges and labels, true to a tenth of a millimetre.

A drawing is made once, of marks in millimetres (`marks`); `pdf`, `svg` and `dxf` write the same
drawing to a file. Words come in by key (`words.Words`), the day as text: nothing here knows either.
"""
