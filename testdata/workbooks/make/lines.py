"""What all the workbooks hold: an invented shop, invented suppliers and parts."""

SHOP = "Mill Lane Amplifier Works"
HEADER = ["Supplier", "Code", "Part", "Description", "For", "Qty", "Price", "Line total", "Currency"]
LINES = [
    ("Peatgate Components", "PG-10482", "HA550-16", "16 µF 550 V axial", "C22 C23", 2, 4.12),
    ("Peatgate Components", "PG-10496", "HA550-33", "33 µF 550 V axial", "C20 C21", 4, 5.68),
    ("Brackwater Supply", "BW-2210", "FB100N-630", "100 nF 630 V box", "C9", 10, 0.39),
]
SUM = 34.86
PIECES = 16
